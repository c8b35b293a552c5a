"""Kill the planning page while it saves a design, and look at what is left.

Usage: python tests/benchmarks/page_kills.py [KILLS]

A page is served; a design in it is changed and saved as fast as it answers, and the
page is killed at a random moment. The file has to be the old or the new one, byte for byte, and so
has every draft; the next page has to open and save it. Prints counts; exit code 1 when something is
amiss.
"""

import json
import os
import random
import re
import signal
import sys
import tempfile
import threading
import time
from collections import Counter
from pathlib import Path

import httpx

from stitchpath.page.jobs import Jobs
from stitchpath.page.serve import serve
from stitchpath.page.start import Start

DESIGN = Path(__file__).resolve().parents[2] / "designs" / "curved-cushion.toml"
FILLED = "# " + "a long comment, so that writing takes a while " * 4_000 + "\n"


def saving(browser: httpx.Client, way: str, rev: int, begun: threading.Event) -> None:
    """Change and save until no one answers."""
    try:
        while True:
            for name in ("Cushion one", "Cushion two"):
                edit = {"op": "set", "path": ["name"], "value": name}
                answer = browser.post(f"{way}/edits", json={"rev": rev, "edits": [edit]})
                rev = answer.json()["rev"]
                begun.set()
                browser.post(f"{way}/save", json={})
    except httpx.HTTPError:
        return


def serving(folder: Path) -> tuple[int, str]:
    """Serve a page in a process that has all libraries already; give it and what it says."""
    reading, writing = os.pipe()
    process = os.fork()
    if not process:
        Jobs.warm = Start.begin = lambda _: None  # saving needs no other process
        serve(folder, browser=False, say=lambda said: os.write(writing, f"{said}\n".encode()))
        os._exit(0)
    os.close(writing)
    with os.fdopen(reading) as lines:
        return process, lines.readline() + lines.readline()


def killed(folder: Path, after: float) -> str:
    """Start a page, save in it, kill it; give what the file then is."""
    process, said = serving(folder)
    found = re.search(r"(http://\S+)/#(\S+)", said)
    assert found is not None
    with httpx.Client(base_url=found[1], headers={"Origin": found[1]}, timeout=60) as browser:
        browser.post("/api/enter", json={"token": found[2]}).raise_for_status()
        state = browser.post("/api/designs", json={"file": "quilt.toml"}).json()
        way = f"/api/designs/{state['id']}"
        begun = threading.Event()
        worker = threading.Thread(target=saving, args=(browser, way, state["rev"], begun))
        worker.start()
        begun.wait(60)
        time.sleep(after)
        os.kill(process, signal.SIGKILL)
        os.waitpid(process, 0)
        worker.join()
    return (folder / "quilt.toml").read_text("utf-8")


def main() -> None:
    """Print the counts."""
    kills = int(sys.argv[1]) if sys.argv[1:] else 100
    rng, counts = random.Random(1), Counter()
    text = FILLED + DESIGN.read_text("utf-8")
    sound = {
        text: "as it was",
        text.replace('"Curved cushion"', '"Cushion one"'): "one",
        text.replace('"Curved cushion"', '"Cushion two"'): "two",
    }
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        for drawing in DESIGN.parent.glob("*.svg"):
            (folder / drawing.name).write_bytes(drawing.read_bytes())
        for _ in range(kills):
            (folder / "quilt.toml").write_text(text, "utf-8")
            counts[sound.get(killed(folder, rng.uniform(0, 0.5)), "TORN")] += 1
            for draft in folder.glob(".stitchpath-draft-*.json"):
                kept = json.loads(draft.read_text("utf-8"))["text"]
                counts["draft whole" if kept in sound else "DRAFT TORN"] += 1
                draft.unlink()
            counts["left half written"] += len(list(folder.glob(".stitchpath-*.part")))
    for name, many in sorted(counts.items()):
        print(f"{many:5} {name}")
    sys.exit(any(counts[name] for name in ("TORN", "DRAFT TORN")))


if __name__ == "__main__":
    main()
