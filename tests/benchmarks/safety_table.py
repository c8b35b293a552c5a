"""Files from strangers, each planned by the whole command: seconds, memory and what is said.

Use: python tests/benchmarks/safety_table.py

Makes each file, runs `stitchpath plan` on it and prints a table: processor seconds, MB at most,
exit code, and the sentence. Nothing may take over 5 s or 1 GB, fetch, or end in a traceback.
"""

import os
import socket
import subprocess
import sys
import tempfile
from pathlib import Path

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="300mm" height="300mm" viewBox="0 0 300 300">'
GRID = '<path fill="none" stroke="black" d="M0 0H300V300H0ZM150 0V300M0 150H300"/>'


def entities():
    """An entity bomb of 10^9 letters."""
    lines = ['<!ENTITY a0 "lollollol">']
    lines += [f'<!ENTITY a{k} "{f"&a{k - 1};" * 10}">' for k in range(1, 10)]
    return f"<!DOCTYPE svg [{''.join(lines)}]>{HEAD}<text>&a9;</text>{GRID}</svg>"


def external(port):
    """An external entity, a style sheet, a picture and a copy, all from elsewhere."""
    there = f"http://127.0.0.1:{port}/x"
    return (
        f'<?xml-stylesheet href="{there}.css"?>{HEAD}<style>@import "{there}.css";</style>'
        f'<image href="{there}.png" width="9" height="9"/><use href="{there}.svg#a"/>{GRID}</svg>'
    )


def uses():
    """Copies of copies: 10^8 of them."""
    body = '<rect id="u0" width="1" height="1"/>'
    for k in range(1, 9):
        body += f'<g id="u{k}">' + f'<use href="#u{k - 1}" x="1"/>' * 10 + "</g>"
    return f'{HEAD}<defs>{body}</defs><use href="#u8"/>{GRID}</svg>'


def lines_of_dxf(count):
    """A DXF of so many lines."""
    entity = "  0\nLINE\n  8\n0\n 10\n0\n 20\n0\n 11\n9\n 21\n9\n"
    return f"  0\nSECTION\n  2\nENTITIES\n{entity * count}  0\nENDSEC\n  0\nEOF\n"


def files(port):
    """Name each case, its file's name and what makes its contents."""
    numbers = '<rect width="1e308" height="1e308" x="-1e308"/><path d="M NaN 0 L 1e309 9 z"/>'
    xxe = '<!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/passwd">]>'
    return [
        ("a sound drawing, to compare with", "a.svg", lambda: HEAD + GRID + "</svg>"),
        ("entity bomb", "a.svg", entities),
        ("external entity", "a.svg", lambda: xxe + HEAD + f"<text>&x;</text>{GRID}</svg>"),
        ("external references", "a.svg", lambda: external(port)),
        ("nested use, 10^8 copies", "a.svg", uses),
        (
            "3,000 nested groups",
            "a.svg",
            lambda: HEAD + "<g>" * 3000 + GRID + "</g>" * 3000 + "</svg>",
        ),
        ("100,000 nested groups", "a.svg", lambda: HEAD + "<g>" * 100_000 + "</svg>"),
        ("200 MB", "a.svg", lambda: HEAD + " " * 200_000_000 + GRID + "</svg>"),
        (
            "10 million path commands",
            "a.svg",
            lambda: f'{HEAD}<path d="M0 0{"l1 1" * 10_000_000}"/></svg>',
        ),
        (
            "a million path commands",
            "a.svg",
            lambda: f'{HEAD}<path d="M0 0{"h1" * 950_000}"/></svg>',
        ),
        ("NaN, 1e308", "a.svg", lambda: f"{HEAD}{numbers}{GRID}</svg>"),
        ("NaN alone", "a.svg", lambda: f'{HEAD}<path d="M NaN 0 L 1e309 9 z"/></svg>'),
        ("truncated SVG", "a.svg", lambda: (HEAD + GRID * 20)[:-30]),
        ("binary", "a.svg", lambda: bytes(range(256)) * 4000),
        ("a PNG called .svg", "a.svg", lambda: b"\x89PNG\r\n\x1a\n" + b"\0" * 99),
        ("an SVG called .dxf", "a.dxf", lambda: HEAD + GRID + "</svg>"),
        ("a DXF called .svg", "a.svg", lambda: lines_of_dxf(9)),
        ("truncated DXF", "a.dxf", lambda: lines_of_dxf(9)[:150]),
        ("DXF of a million entities", "a.dxf", lambda: lines_of_dxf(1_000_000)),
        ("DXF of 300,000 entities, under 20 MB", "a.dxf", lambda: lines_of_dxf(300_000)),
        ("DXF of 20,000 entities in one heap", "a.dxf", lambda: lines_of_dxf(20_000)),
        ("empty", "a.svg", lambda: ""),
    ]


def written(file, make):
    """Write a file; what it was made of is gone then, for a child's memory begins with ours."""
    data = make()
    file.write_bytes(data if isinstance(data, bytes) else data.encode())


def planned(folder, name, make):
    """Plan a file; give processor seconds, MB, exit code and the last line that was said."""
    file = folder / name
    maker = os.fork()
    if maker == 0:
        written(file, make)
        os._exit(0)
    os.waitpid(maker, 0)
    command = [sys.executable, "-m", "stitchpath", "plan", name, "--force"]
    command += ["--size", "300mm"] if name.endswith("dxf") else []
    job = subprocess.Popen(command, cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    said = job.stdout.read().decode().strip()
    _, status, used = os.wait4(job.pid, 0)
    job.returncode = os.waitstatus_to_exitcode(status)
    file.unlink()
    if job.returncode == 0:
        said = "planned"
    spent = used.ru_utime + used.ru_stime
    return spent, used.ru_maxrss / 1000, job.returncode, " ".join(said.split())


def main():
    """Run them all."""
    with tempfile.TemporaryDirectory() as name, socket.create_server(("127.0.0.1", 0)) as server:
        server.settimeout(0.1)
        print("| file | s | MB | exit | said |\n|---|---:|---:|---:|---|")
        for title, file, make in files(server.getsockname()[1]):
            spent, most, code, said = planned(Path(name), file, make)
            wrong = spent > 5 or most > 1000 or "Traceback" in said or code not in (0, 1)
            print(f"| {title} | {spent:.1f} | {most:.0f} | {code} | {said[:160]} |", flush=True)
            if wrong:
                print("| ^ this is wrong | | | | |")
        try:
            server.accept()
            print("something was fetched")
        except TimeoutError:
            print("\nNothing was fetched.")


if __name__ == "__main__":
    main()
