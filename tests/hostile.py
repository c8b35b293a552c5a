"""A catalogue of strange files, made when it is asked for; each with what has to become of it.

Run as a script it reads all of them into one report, with time and memory bounded:
python tests/hostile.py FOLDER writes FOLDER/report.json.
"""

# ruff: noqa: E501, PLC0415, RUF001, PLR0915 - a list

import json
import os
import resource
import signal
import sys
import zlib
from pathlib import Path

import numpy as np

READS = ""  # what is expected of a file that can be read
SVG = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
SQUARE = '<path id="p" d="M0 0L10 0L10 10L0 10Z"/>'
DESIGN = """
name = "Strange"
[fabrics]
sand = "#e7d5b0"
coral = "#dc6f50"
[blocks.plain]
size = 10
grid = ['sand']
[layout]
rows = ["plain"]
[lines]
ditch = "none"
"""
PIECE = """
[[applique]]
name = "piece"
file = {file}
size = 6
fabric = "coral"
"""
SECONDS, BYTES = 5, 1_000_000_000


def svg(inside="", head=""):
    return f"{SVG} {head}>{inside}</svg>".encode()


def path(data, more=""):
    return svg(f'<path d="{data}" {more}/>')


_VERSION = "  9\n$ACADVER\n  1\nAC1015\n"


def dxf(*entities, header="", blocks="", tables=""):
    def section(name, text):
        return f"  0\nSECTION\n  2\n{name}\n{text}  0\nENDSEC\n"

    parts = [("HEADER", _VERSION + header), ("TABLES", tables), ("BLOCKS", blocks)]
    text = "".join(section(name, inside) for name, inside in parts if inside)
    return (text + section("ENTITIES", "".join(entities)) + "  0\nEOF\n").encode()


_CLASSES = {"LWPOLYLINE": "AcDbPolyline", "SPLINE": "AcDbSpline"}


def entity(kind, *pairs, layer="0"):
    pairs = [
        (8, layer),
        *([(100, "AcDbEntity"), (100, _CLASSES[kind])] if kind in _CLASSES else []),
        *pairs,
    ]
    return f"  0\n{kind}\n" + "".join(f"{code:3d}\n{value}\n" for code, value in pairs)


def polyline(*points, closed=1, layer="0", bulges=None):
    pairs = [(90, len(points)), (70, closed)]
    for k, (x, y) in enumerate(points):
        pairs += [(10, x), (20, y)] + ([(42, bulges[k])] if bulges else [])
    return entity("LWPOLYLINE", *pairs, layer=layer)


def block(name, *entities):
    head = f"  0\nBLOCK\n  8\n0\n  2\n{name}\n 70\n0\n 10\n0\n 20\n0\n 30\n0\n"
    return head + "".join(entities) + "  0\nENDBLK\n  8\n0\n"


BOX = polyline((0, 0), (100, 0), (100, 100), (0, 100))


def insert(name, *pairs):
    return entity("INSERT", (2, name), (10, 0), (20, 0), *pairs)


def nested_use(levels, each):
    parts = ['<path id="a0" d="M0 0L10 0L10 10Z"/>']
    for k in range(levels):
        copies = f'<use xlink:href="#a{k}"/>' * each
        parts.append(f'<g id="a{k + 1}">{copies}</g>')
    return svg("".join(parts))


def entities(levels):
    bomb = "".join(f'<!ENTITY a{k + 1} "{f"&a{k};" * 10}">' for k in range(levels))
    return f'<!DOCTYPE svg [<!ENTITY a0 "aaaaaaaaaa">{bomb}]>{SVG}>&a{levels};</svg>'.encode()


def jagged(points, tremble, seed=1):
    rng = np.random.default_rng(seed)
    angle = np.linspace(0, 2 * np.pi, points, endpoint=False)
    radius = (50 + rng.normal(0, tremble, points))[:, None]
    at = radius * np.column_stack([np.cos(angle), np.sin(angle)])
    return path("M" + "L".join(f"{x:.4f} {y:.4f}" for x, y in at.tolist()) + "Z")


def scribble(count, head='fill="none" stroke="black" stroke-width="3"'):
    at = np.random.default_rng(2).integers(0, 100, (count, 2)).tolist()
    return path("M" + "L".join(f"{x} {y}" for x, y in at), head)


def grid_of(count, size=0.4):
    rects = "".join(
        f'<rect x="{k % 100}" y="{k // 100}" width="{size}" height="{size}"/>' for k in range(count)
    )
    return svg(rects)


def style(text, inside=SQUARE):
    return svg(f"<style>{text}</style>{inside}")


def _numbers():
    for name, value in (("inf", "inf"), ("nan", "nan"), ("word", "ten")):
        yield f"rect-width-{name}", svg(f'<rect width="{value}" height="9"/>'), "nothing that shows"
    for name, value in (("1e308", "1e308"), ("1e999", "1e999"), ("1e10", "1e10")):
        yield f"circle-{name}", svg(f'<circle r="{value}"/>'), "out of range"
        yield f"path-{name}", path(f"M0 0L{value} 0L10 10Z"), "out of range"
        yield f"rect-{name}", svg(f'<rect width="{value}" height="{value}"/>'), "out of range"
        yield f"polygon-{name}", svg(f'<polygon points="0,0 {value},0 9,9"/>'), "out of range"
    yield "path-arc-huge", path("M0 0A1e300 1e300 0 1 1 10 10L0 10Z"), "out of range"
    yield "path-arc-large", path("M0 0A1e8 1e8 0 0 1 10 10L0 10Z"), READS
    yield "path-arc-none", path("M0 0A0 0 0 1 1 10 10L0 10Z"), READS
    yield "path-sum-huge", path("M0 0" + "l9e8 0" * 20 + "L0 10Z"), "out of range"
    yield (
        "scale-huge",
        svg(f'<g transform="scale(1e9)"><g transform="scale(1e9)">{SQUARE}</g></g>'),
        "out of range",
    )
    yield "scale-nothing", svg(f'<g transform="scale(0)">{SQUARE}</g>'), "found"
    yield "scale-minus", svg(f'<g transform="scale(-1,1)">{SQUARE}</g>'), READS
    yield "tiny", path("M0 0L1e-300 0L0 1e-300Z"), "found"
    yield "small", path("M0 0L1e-6 0L1e-6 1e-6L0 1e-6Z"), READS
    yield "far-away", path("M1e8 1e8l10 0l0 10l-10 0Z"), READS
    yield "stroke-1e308", path("M0 0L10 0L10 10Z", 'stroke="red" stroke-width="1e308"'), "found"
    yield "stroke-minus", path("M0 0L10 0L10 10Z", 'stroke="red" stroke-width="-4"'), READS
    yield "viewbox-nothing", svg(SQUARE, 'viewBox="0 0 0 0"'), READS
    yield "viewbox-nan", svg(SQUARE, 'viewBox="nan nan 9 9"'), READS
    yield "viewbox-1e300", svg(SQUARE, 'viewBox="0 0 1e300 1e300"'), READS
    yield "viewbox-tiny", svg(SQUARE, 'viewBox="0 0 1e-300 1e-300"'), None
    yield "width-minus", svg(SQUARE, 'width="-5mm" height="-5mm"'), READS
    yield "width-huge", svg(SQUARE, 'width="1e300mm" height="1e300mm" viewBox="0 0 9 9"'), "found"


def _paths():
    wrong = "cannot be read to its end"
    yield "path-none", path(""), "nothing that shows"
    yield "path-z", path("Z"), wrong
    yield "path-relative-first", path("l10 0l0 10z"), wrong
    yield "path-words", path("hello world"), wrong
    yield "path-stops", path("M0 0L10 0L10 10L0 10ZL"), READS
    yield "path-junk-later", path("M0 0L10 0L10 10L0 10Z junk"), READS
    yield "path-comma", path("M0,,0L10,0,L10,10,0,10Z"), READS
    yield "path-half", path("M0 0L10"), wrong
    yield "path-move-only", path("M5 5"), "nothing that shows"
    yield "path-moves", path("M5 5" * 3000), "nothing that shows"
    yield "path-flags", path("M0 0a5 5 0 1110 0a5 5 0 11-10 0Z"), READS
    yield "path-bad-flag", path("M0 0A5 5 0 2 1 10 10Z"), wrong
    yield "path-line", path("M0 0L10 10"), "found"
    yield "path-there-and-back", path("M0 0L10 10L0 0Z"), "found"
    yield "path-dots", path("M0 0L10 0L10 10L0 10Z" + "." * 100_000), READS
    yield "path-spaces", path("M0 0" + " " * 2_000_000 + "L10 0L10 10Z"), "characters of path data"
    yield "path-commas", path("M0 0" + "," * 900_000 + "L10 0L10 10Z"), READS
    yield "path-minus", path("M0 0" + "-" * 500_000), wrong
    yield "path-zeros", path("M0 0L" + "0" * 1_000_000 + " 9L9 9Z"), READS
    yield "path-e", path("M0 0L1e" + "1" * 100_000 + " 9"), "out of range"
    yield "path-2-million", path("M0 0" + "h1" * 1_000_000), "found"
    yield "path-600000", path("M0 0" + "h1v1" * 300_000), "found"
    yield "path-nul", path("M0 0&#0;L10 0"), "expected"
    yield "path-unicode-digits", path("M٠ ٠L١٠ ٠L١٠ ١٠Z"), "found"
    yield "polygon-odd", svg('<polygon points="0,0 10,0 10,10 5"/>'), READS
    yield "polygon-words", svg('<polygon points="one two"/>'), "nothing that shows"
    yield "polygon-one", svg('<polygon points="3,3"/>'), "found"
    for count in (3_000, 9_000):
        yield f"scribble-{count}", scribble(count), "found"
        yield f"scribble-filled-{count}", scribble(count, ""), "runs to and fro"
    yield "scribble-1900", scribble(1900, ""), "found"
    yield "scribble-60", scribble(60, ""), READS
    for tremble in (0.05, 0.5, 2.0):
        yield f"jagged-{tremble}", jagged(20_000, tremble), READS
    yield "jagged-100000", jagged(100_000, 0.5), READS
    yield "jagged-wild", jagged(20_000, 40.0), "found"
    combs = "".join(f"L{k} {100 * (k % 2)}" for k in range(1900))
    yield "comb", path(f"M0 0{combs}L1900 200L0 200Z"), READS
    many = "".join(f"M{k % 60} {k // 60}h.5v.5h-.5z" for k in range(3000))
    yield "rings-3000", path(many), "found"
    nested = "".join(f"M{-k} {-k}H{k}V{k}H{-k}z" for k in range(1, 1500))
    yield "rings-nested", path(nested, 'fill-rule="evenodd"'), "found"
    yield "squares-10000", grid_of(10_000), "found"
    yield "squares-overlapping", grid_of(3_000, 40), READS


def _documents():  # a list
    yield "empty", b"", "expected"
    yield "spaces", b" \n" * 1000, "expected"
    yield "html", b"<html><body>hi</body></html>", "a file of <html>"
    yield (
        "html-with-svg",
        b"<!DOCTYPE html><html><body>" + svg(SQUARE) + b"</body></html>",
        "<html>",
    )
    yield "html-loose", b"<!DOCTYPE html><p>hi<br>there", "expected"
    yield "plain-words", b"M 0 0 L 10 0", "neither SVG nor DXF"
    yield "json", b'{"svg": 1}', "neither SVG nor DXF"
    yield "truncated", svg(SQUARE)[:-20], "expected"
    yield "two-roots", svg(SQUARE) * 2, "expected"
    yield "other-root", b"<drawing/>", "a file of <drawing>"
    yield "no-namespace", b"<svg>" + SQUARE.encode() + b"</svg>", READS
    yield (
        "prefixed",
        f'<s:svg xmlns:s="http://www.w3.org/2000/svg">{SQUARE.replace("<path", "<s:path")}</s:svg>'.encode(),
        READS,
    )
    yield (
        "other-namespace",
        f'{SVG} xmlns:o="urn:o"><o:path d="M0 0L9 0L9 9Z"/></svg>'.encode(),
        "nothing that shows",
    )
    yield "unbound-prefix", f"{SVG}><o:g/></svg>".encode(), "expected"
    yield "attribute-twice", svg('<path d="M0 0" d="M1 1"/>'), "expected"
    yield "not-closed", svg("<g>"), "expected"
    yield "undefined-entity", svg("&nbsp;" + SQUARE), "expected"
    yield "entity-bomb", entities(9), "expected"
    yield (
        "entity-long",
        f'<!DOCTYPE svg [<!ENTITY a "{"a" * 5000}">]>{SVG}>{SQUARE}</svg>'.encode(),
        "expected",
    )
    yield (
        "entity-short",
        f'<!DOCTYPE svg [<!ENTITY d "M0 0L9 0L9 9Z">]>{SVG}><path d="&d;"/></svg>'.encode(),
        READS,
    )
    yield (
        "entity-file",
        f'<!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/passwd">]>{SVG}>&x;</svg>'.encode(),
        "expected",
    )
    yield (
        "entity-web",
        f'<!DOCTYPE svg [<!ENTITY x SYSTEM "http://localhost:9/x">]>{SVG}>&x;</svg>'.encode(),
        "expected",
    )
    yield (
        "entity-parameter",
        f'<!DOCTYPE svg [<!ENTITY % x "y">%x;]>{SVG}>{SQUARE}</svg>'.encode(),
        "expected",
    )
    yield (
        "dtd-web",
        f'<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://localhost:9/svg.dtd">{SVG}>{SQUARE}</svg>'.encode(),
        READS,
    )
    yield (
        "stylesheet-web",
        b'<?xml-stylesheet href="http://localhost:9/x.css"?>' + svg(SQUARE),
        READS,
    )
    yield (
        "image-web",
        svg('<image href="http://localhost:9/x.png" width="9" height="9"/>'),
        "trace the picture",
    )
    yield "use-web", svg('<use href="http://localhost:9/x.svg#a"/>' + SQUARE), READS
    yield "use-file", svg('<use href="other.svg#a"/>' + SQUARE), READS
    yield "script", svg("<script>while (true) {}</script>" + SQUARE), READS
    yield (
        "include",
        f'{SVG} xmlns:xi="http://www.w3.org/2001/XInclude"><xi:include href="/etc/passwd"/>{SQUARE}</svg>'.encode(),
        READS,
    )
    yield "bom", b"\xef\xbb\xbf" + svg(SQUARE), READS
    for name in ("utf-16", "utf-16-le", "utf-16-be", "utf-32", "utf-7", "cp037"):
        yield (
            f"coded-{name}",
            svg(SQUARE).decode().encode(name),
            None
            if name in ("utf-16-le", "utf-16-be", "utf-7")
            else READS
            if name == "utf-16"
            else "expected",
        )
    for name, code in (
        ("x-nope", "expected"),
        ("latin-1", READS),
        ("cp1252", READS),
        ("zip", "expected"),
        ("rot13", "expected"),
        ("idna", "expected"),
        ("unicode_escape", None),
        ("base64", "expected"),
    ):
        yield (
            f"says-{name}",
            f'<?xml version="1.0" encoding="{name}"?>'.encode() + svg(SQUARE),
            code,
        )
    yield "bad-utf-8", svg(SQUARE + "<!-- é -->").replace("é".encode(), b"\xff"), "expected"
    yield "nul", svg(SQUARE + "\0"), "expected"
    yield "control", svg(SQUARE + "\x1b"), "expected"
    yield "png", b"\x89PNG\r\n\x1a\n" + b"\0" * 100, "a PNG picture"
    yield "jpeg", b"\xff\xd8\xff\xe0" + b"\0" * 100, "a JPEG picture"
    yield "gif", b"GIF89a", "a GIF picture"
    yield "pdf", b"%PDF-1.7\n", "a PDF"
    yield "zip", b"PK\x03\x04", "a ZIP archive"
    yield "compressed", b"\x1f\x8b\x08" + zlib.compress(svg(SQUARE)), "a compressed file"
    yield "random", np.random.default_rng(3).bytes(10_000), "expected"
    yield "groups-3000", svg("<g>" * 3000 + SQUARE + "</g>" * 3000), READS
    yield "groups-20000", svg("<g>" * 20_000 + "</g>" * 20_000), "one in another"
    yield "groups-open", svg("<g>" * 4_000), "expected"
    yield "groups-wide", svg("<g/>" * 200_000), "elements"
    yield "comments", svg("<!-- -->" * 200_000 + SQUARE), READS
    yield (
        "attributes",
        svg("<path " + " ".join(f'a{k}="1"' for k in range(50_000)) + ' d="M0 0L9 0L9 9Z"/>'),
        READS,
    )
    yield "attribute-long", svg(f'<path id="{"x" * 1_000_000}" d="M0 0L9 0L9 9Z"/>'), READS
    yield "text-long", svg("x" * 5_000_000 + SQUARE), READS
    yield "ids-alike", svg(SQUARE * 1000), READS
    yield "large", b"<svg>" + b" " * 21_000_000, "21 MB"


def _copies():
    for levels, each in ((8, 10), (25, 2)):
        yield f"use-bomb-{levels}", nested_use(levels, each), "expected fewer"
    yield (
        "use-chain",
        svg(
            "".join(f'<g id="c{k}"><use href="#c{k + 1}"/></g>' for k in range(300))
            + '<path id="c300" d="M0 0L9 0L9 9Z"/>'
        ),
        "one in another",
    )
    yield "use-self", svg('<g id="a"><use href="#a"/></g>' + SQUARE), READS
    yield (
        "use-each-other",
        svg('<g id="a"><use href="#b"/></g><g id="b"><use href="#a"/></g>' + SQUARE),
        READS,
    )
    yield "use-root", f'{SVG} id="r">{SQUARE}<use href="#r"/></svg>'.encode(), READS
    yield "use-nothing", svg('<use/><use href=""/><use href="#"/><use href="#no"/>' + SQUARE), READS
    yield "use-shape", svg('<defs><circle id="c" r="5"/></defs><use href="#c" x="1e8"/>'), READS
    yield "use-far", svg('<defs><circle id="c" r="5"/></defs><use href="#c" x="1e300"/>'), "found"
    yield (
        "clip-self",
        svg(
            '<clipPath id="c" clip-path="url(#c)"><rect width="5" height="5"/></clipPath><g clip-path="url(#c)">'
            + SQUARE
            + "</g>"
        ),
        "clip each other",
    )
    yield "clip-missing", svg('<g clip-path="url(#no)">' + SQUARE + "</g>"), READS
    yield "clip-not-a-clip", svg(f'<g clip-path="url(#p)">{SQUARE}</g>'), READS
    yield (
        "clip-all-away",
        svg('<clipPath id="c"/><g clip-path="url(#c)">' + SQUARE + "</g>"),
        "found",
    )
    clips = "".join(f'<g clip-path="url(#c)"><path d="M{k} 0h1v1z"/></g>' for k in range(600))
    yield "clips-600", svg(f'<clipPath id="c"><circle r="900"/></clipPath>{clips}'), "clip paths"
    bombs = (
        nested_use(6, 10)
        .decode()
        .replace(
            "</svg>",
            '<clipPath id="c"><use href="#a6"/></clipPath><g clip-path="url(#c)"><rect width="9" height="9"/></g></svg>',
        )
    )
    yield (
        "clip-bomb",
        bombs.replace('<g id="a1">', '<defs><g id="a1">')
        .replace('<clipPath id="c">', '</defs><clipPath id="c">')
        .encode(),
        "expected fewer",
    )
    yield (
        "pattern-self",
        svg(
            '<pattern id="q"><rect fill="url(#q)" width="9" height="9"/></pattern><rect fill="url(#q)" width="9" height="9"/>'
        ),
        READS,
    )
    yield (
        "mask",
        svg('<mask id="m"><rect width="1" height="9"/></mask><g mask="url(#m)">' + SQUARE + "</g>"),
        READS,
    )
    yield "switch", svg(f"<switch>{SQUARE}<circle r='90'/></switch>"), READS
    yield "symbol-alone", svg(f"<symbol>{SQUARE}</symbol>"), "nothing that shows"
    yield "text-only", svg("<text>shore</text>"), "turn text into paths"
    yield "hidden-only", svg(f'<g display="none">{SQUARE}</g>'), "nothing that shows"
    yield "nested-svg", svg("<svg>" * 400 + SQUARE + "</svg>" * 400), READS
    yield "nested-svg-600", svg("<svg>" * 600 + SQUARE + "</svg>" * 600), "clip paths"


def _styles():
    yield "css-comments", style("/*" * 100_000), READS
    yield "css-slashes", style("/*/" * 60_000), READS
    yield "css-letters", style("a" * 200_000), READS
    yield "css-braces", style("{" * 100_000), READS
    yield "css-brackets", style("[" * 100_000 + "{}"), READS
    yield "css-parens", style("p{fill:" + "(" * 100_000), READS
    yield "css-nested", style("g{" * 50_000), READS
    yield "css-media", style("@media screen{" * 20_000), READS
    yield "css-import", style('@import "http://localhost:9/x.css";'), READS
    yield "css-url", style("path{fill:url(http://localhost:9/x.svg#p)}"), "nothing that shows"
    yield "css-variables", style(":root{--a:var(--b);--b:var(--a)}path{fill:var(--a)}"), READS
    yield "css-escapes", style("\\70 ath{fill:red}" * 1000), READS
    yield "css-nul", style("path{fill:\\0}"), READS
    rules = "".join(f".a{k} g > .b{k}{{fill:red}}" for k in range(5000))
    yield "css-rules", style(rules, "<g><path class='b1' d='M0 0h9v9z'/></g>" * 10), READS
    yield "css-rules-shapes", style("g path{fill:red}" * 5000, SQUARE * 2000), "too many rules"
    deep = "<g class='a'>" * 2000 + SQUARE + "</g>" * 2000
    yield "css-descendants", style(".z " + ".a " * 500 + "path{fill:red}" * 200, deep), READS
    yield "css-long", style("path{fill:red}" * 200_000), "over 2 MB"
    yield "style-long", path("M0 0L9 0L9 9Z", f'style="{"fill:red;" * 50_000}"'), READS
    yield "style-parens", path("M0 0L9 0L9 9Z", f'style="fill:{"(" * 9000}"'), READS
    yield "class-many", path("M0 0L9 0L9 9Z", f'class="{"a " * 200_000}"'), READS
    for k, text in enumerate(
        [
            "matrix(1 2)",
            "scale()",
            "rotate(a)",
            "rotate",
            "(",
            "translate(1,2",
            "scale(1e300) scale(1e300)",
            "matrix(nan 0 0 1 0 0)",
            "skewX(90)",
            "translate(" + "(" * 9999,
            "a" * 9999,
        ]
    ):
        yield f"transform-{k}", svg(f'<path d="M0 0L9 0L9 9Z" transform="{text}"/>'), None
    yield (
        "transform-long",
        svg(f'<path d="M0 0L9 0L9 9Z" transform="{"scale(1) " * 100_000}"/>'),
        None,
    )


def _dxfs():
    yield "square.dxf", dxf(BOX), READS
    yield "bulges.dxf", dxf(polyline((0, 0), (100, 0), bulges=[1, 1])), READS
    yield "empty.dxf", dxf(), "nothing that shows"
    yield "nothing.dxf", b"", "expected"
    yield "cut-off.dxf", dxf(BOX)[:-40], None
    yield "half.dxf", dxf(BOX)[:90], "expected"
    yield "words.dxf", b"hello\nworld\n", "expected"
    yield "zeros.dxf", b"\0" * 1000, "expected"
    yield "svg-inside.dxf", svg(SQUARE), READS
    yield "random.dxf", np.random.default_rng(4).bytes(5000), "expected"
    yield "binary.dxf", b"AutoCAD Binary DXF\r\n\x1a\0", "binary DXF"
    yield "nan.dxf", dxf(polyline((0, 0), ("nan", 0), (9, 9))), "expected"
    yield "inf.dxf", dxf(polyline((0, 0), ("1e308", 0), (9, 9))), "out of range"
    yield "word.dxf", dxf(polyline((0, 0), ("ten", 0), (9, 9))), "expected"
    yield "text.dxf", dxf(entity("TEXT", (10, 0), (20, 0), (40, 5), (1, "shore"))), "turn text"
    yield (
        "lines.dxf",
        dxf(
            *[
                entity("LINE", (10, a), (20, b), (11, c), (21, d))
                for a, b, c, d in ((0, 0, 9, 0), (9, 0, 9, 9), (9, 9, 0, 0.001))
            ]
        ),
        READS,
    )
    yield "open.dxf", dxf(entity("LINE", (10, 0), (20, 0), (11, 5), (21, 5))), "no area"
    yield "circle.dxf", dxf(entity("CIRCLE", (10, 0), (20, 0), (40, 5))), READS
    yield "circle-huge.dxf", dxf(entity("CIRCLE", (10, 0), (20, 0), (40, 1e300))), "expected"
    yield "circle-minus.dxf", dxf(entity("CIRCLE", (10, 0), (20, 0), (40, -5))), None
    yield "self.dxf", dxf(insert("A"), blocks=block("A", insert("A"), BOX)), "one in another"
    yield "missing.dxf", dxf(insert("NO"), BOX), READS
    bomb = "".join(block(f"B{k}", *[insert(f"B{k + 1}")] * 10) for k in range(8)) + block("B8", BOX)
    yield "bomb.dxf", dxf(insert("B0"), blocks=bomb), "expected fewer"
    yield (
        "array.dxf",
        dxf(insert("A", (70, 30000), (71, 30000)), blocks=block("A", BOX)),
        "expected fewer",
    )
    yield (
        "million.dxf",
        dxf(*[entity("LINE", (10, 0), (20, 0), (11, 5), (21, 5))] * 150_000),
        "values",
    )
    yield "points-90000.dxf", dxf(polyline(*[(k, k * k % 97) for k in range(90_000)])), "expected"
    knots = [(71, 3), (72, 8), (73, 4), *[(40, k) for k in (0, 0, 0, 0, 1, 1, 1, 1)]]
    yield (
        "spline.dxf",
        dxf(
            entity(
                "SPLINE",
                (70, 8),
                *knots,
                *[
                    p
                    for x, y in ((0, 0), (9, 0), (9, 9), (0, 0))
                    for p in ((10, x), (20, y), (30, 0))
                ],
            )
        ),
        READS,
    )
    yield (
        "spline-bad.dxf",
        dxf(entity("SPLINE", (70, 8), (71, 3), (72, 2), (73, 1), (40, 0))),
        "expected",
    )
    yield "spline-degree.dxf", dxf(entity("SPLINE", (70, 8), (71, 30000), *knots[1:])), "expected"
    yield (
        "layer-off.dxf",
        dxf(
            polyline((0, 0), (9, 0), (9, 9), layer="hid"),
            tables="  0\nTABLE\n  2\nLAYER\n 70\n1\n  0\nLAYER\n  2\nhid\n 70\n1\n 62\n-7\n  6\nCONTINUOUS\n  0\nENDTAB\n",
        ),
        "nothing that shows",
    )


def _designs():
    yield "bom.toml", b"\xef\xbb\xbf" + DESIGN.encode(), "nothing to stitch"
    yield "utf16.toml", DESIGN.encode("utf-16"), "UTF-16"
    yield "latin.toml", DESIGN.replace("Strange", "Möwe").encode("latin-1"), "no UTF-8"
    yield "nul.toml", DESIGN.encode() + b"\0", "expected"
    yield "empty.toml", b"", "name"
    yield "large.toml", b"#" * 5_000_000, "5 MB"
    yield "brackets.toml", b"a = " + b"[" * 100_000, "nested"
    yield "braces.toml", b"a = " + b"{a=" * 100_000, "expected"
    yield "dotted.toml", b".".join([b"a"] * 100_000) + b" = 1", "a key of over"
    yield "dotted-quoted.toml", b".".join([b'"a"'] * 100_000) + b" = 1", "a key of over"
    yield "header.toml", b"[" + b" . ".join([b"a"] * 50_000) + b"]", "a key of over"
    yield "number.toml", DESIGN.replace("size = 10", f"size = {'9' * 10_000}").encode(), "expected"
    yield "integer.toml", DESIGN.replace("size = 10", f"size = 1{'0' * 400}").encode(), "expected"
    yield "deep.toml", (DESIGN + "[x" + ".x" * 38 + "]\ny = 1\n").encode(), "unknown key 'x'"
    yield (
        "keys.toml",
        (DESIGN + "".join(f"k{k} = 1\n" for k in range(100_000))).encode(),
        "unknown key",
    )
    yield "quotes.toml", b'a = "' + b"\\" * 1_000_000, "expected"
    for code in (
        0x00,
        0x07,
        0x0A,
        0x1B,
        0x7F,
        0x85,
        0x200E,
        0x2028,
        0x2029,
        0x202E,
        0x2066,
        0xFFFE,
    ):
        name = f'"Quay\\u{code:04x}"'
        yield f"name-{code:04x}.toml", DESIGN.replace('"Strange"', name).encode(), f"U+{code:04X}"
    for key in ("sand", "coral"):
        bad = DESIGN.replace(f"{key} =", f'"{key}\\u202e" =')
        yield f"fabric-{key}.toml", bad.encode(), "U+202E"
    for k, file in enumerate(["../x.svg", "/etc/passwd", "a/../../x.svg", "link.svg", "/dev/zero"]):
        text = DESIGN + PIECE.format(file=json.dumps(file))
        yield f"outside-{k}.toml", text.encode(), "leads out of the design's folder"
    for file, said in (
        ("", "a folder"),
        (".", "a folder"),
        ("pipe", "a pipe"),
        ("folder.svg", "a folder"),
        ("none.svg", "no such file"),
        ("x" * 5000, "expected"),
        ("looped.svg", "expected"),
    ):
        text = DESIGN + PIECE.format(file=json.dumps(file))
        yield f"file-{file[:10] or 'none'}.toml", text.encode(), said
    yield "fine.toml", (DESIGN + PIECE.format(file='"fine.svg"')).encode(), READS


def catalogue():
    """Yield each file's name, its bytes, and what its sentence says; None where both will do."""
    for name, data, said in (*_numbers(), *_paths(), *_documents(), *_copies(), *_styles()):
        yield f"{name}.svg", data, said
    yield from _dxfs()
    yield from _designs()


def wholes():
    """Yield drawings of whole tops that are traps: name, bytes, what the sentence says."""
    rng = np.random.default_rng(1)
    stroke = 'fill="none" stroke="black"'
    at = rng.uniform(0, 500, (6000, 2)).round(2)
    lines = "".join(
        f'<path {stroke} d="M{x} {y}L{u} {v}"/>'
        for (x, y), (u, v) in zip(at[::2], at[1::2], strict=True)
    )
    heap = "".join(f'<path {stroke} d="M{x / 2e3} {y / 2e3}L{x} 500"/>' for x, y in at[:4000])
    discs = "".join(
        f'<circle cx="{x}" cy="{y}" r="80" fill="#{k:06x}"/>' for k, (x, y) in enumerate(at[:1500])
    )
    far = [  # a corner 3 km away: at the size asked all else lies within a hair
        np.array([[x, y], [x + 100, y], [x, y + 100]]) + rng.uniform(-0.3, 0.3, (3, 2))
        for x in range(0, 800, 100)
        for y in range(0, 800, 100)
    ]
    far[20][1, 1] = 3e6
    triangles = "".join(
        f'<polygon fill="#{"c0392b" if k % 2 else "f4ecd8"}" points="{" ".join(map(str, t.flat))}"/>'
        for k, t in enumerate(far)
    )
    yield "far.svg", svg(triangles), "found no patches"
    yield "groups.svg", svg("<g>" * 3000 + '<path d="M0 0H10V10H0Z"/>' + "</g>" * 3000), READS
    yield "copies.svg", nested_use(8, 10), "copies by <use> counted"
    yield "lines.svg", svg(lines), "cross over"
    yield "heap.svg", svg(heap), "cross over"
    yield "discs.svg", svg(discs), "cross over"
    yield "commands.svg", path("M0 0" + "h1v1" * 600_000), "characters of path data"
    yield "jagged.svg", jagged(100_000, 2.0), READS
    yield "nan.svg", path("M0 0L1 NaNL1e308 4Z"), "nothing that shows"
    yield (
        "bomb.svg",
        b'<!DOCTYPE svg [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]>' + svg("&b;"),
        "the entity",
    )
    yield (
        "outside.svg",
        svg('<use xlink:href="file:///etc/passwd#x"/><image href="http://x/"/>'),
        "nothing that shows",
    )
    yield "cut.svg", svg(lines)[:-200], "cannot be read"
    yield "binary.svg", rng.bytes(5000), "neither SVG nor DXF"
    yield (
        "million.dxf",
        dxf(*["  0\nLINE\n 10\n0\n 20\n0\n 11\n9\n 21\n9\n"] * 1_000_000),
        "at most 20 MB",
    )


def read_whole(folder, name, data):
    """Read one file as the drawing of a whole top; give its sentence, empty where it was read."""
    from stitchpath.base.errors import StitchpathError
    from stitchpath.design.drawings.whole import take_whole

    (folder / name).write_bytes(data)
    try:
        take_whole(folder / name, "", size=500.0)
    except StitchpathError as error:
        return str(error)
    return ""


def lay_out(folder):
    """Write what the designs of the catalogue name, and what must not be followed or waited for."""
    (folder / "fine.svg").write_bytes(svg(SQUARE))
    (folder / "folder.svg").mkdir()
    (folder / "link.svg").symlink_to("/etc/hostname")
    (folder / "looped.svg").symlink_to("looped.svg")
    os.mkfifo(folder / "pipe")


def read(folder, name, data):
    """Read one file as a design does; give its sentence, empty where it was read."""
    from stitchpath.base.errors import StitchpathError
    from stitchpath.design.read import design_from_text, load_design
    from stitchpath.plan import look_over

    file = folder / name
    file.write_bytes(data)
    try:
        if name.endswith(".toml"):
            design = load_design(file)
        else:
            text = DESIGN + PIECE.format(file=json.dumps(name))
            design = design_from_text(text, "strange.toml", folder)
        look_over(design)
    except StitchpathError as error:
        return str(error)
    finally:
        file.unlink()
    return ""


def main(folder, files=catalogue, read=read):
    """Read the whole catalogue, none over 5 s of processor and all within 1 GB beyond the start."""

    lay_out(folder)
    size = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (size + BYTES, size + BYTES))

    def late(*_):
        raise KeyboardInterrupt

    signal.signal(signal.SIGPROF, late)
    report = {}
    for name, data, _ in files():
        began = sum(os.times()[:2])
        signal.setitimer(signal.ITIMER_PROF, SECONDS)
        try:
            said = read(folder, name, data)
        except KeyboardInterrupt:
            said = f"took over {SECONDS} s"
        except Exception as error:  # noqa: BLE001 - what the report is for
            said = f"TRACEBACK {error!r}"[:300]
        signal.setitimer(signal.ITIMER_PROF, 0)
        report[name] = said, round(sum(os.times()[:2]) - began, 2)
    (folder / "report.json").write_text(json.dumps(report))


if __name__ == "__main__":
    whole = sys.argv[2:] == ["whole"]
    main(Path(sys.argv[1]), *((wholes, read_whole) if whole else ()))
