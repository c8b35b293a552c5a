"""SVG files as read here against Chromium's picture of them: box and inked area to 0.2 %.

Use: python tests/benchmarks/against_browser.py COUNT FOLDER ... [--seed 1] [--list]

A file is painted twice over. As it is: what is too pale to see is no ink. And made solid: all that
paint covers is ink, however thin the paint is and wherever it fades away, which is what a seam is
drawn by. Takes up to COUNT files at random of each folder, and all drawings that the tests make;
prints how many are alike, and the others by cause. Where nothing of a file shows it is passed over.
Icons of Debian packages do, unpacked anywhere: apt-get download tango-icon-theme, and
dpkg -x *.deb FOLDER.
"""

import argparse
import random
import re
import sys
import tempfile
from collections import Counter, defaultdict
from pathlib import Path

from playwright.sync_api import sync_playwright

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

import drawn  # noqa: E402
from chromium import open_browser  # noqa: E402
from inked import Painter  # noqa: E402

LONG = 1000  # pixels
FADES = "paint that fades away"
MARKS = (
    ("a font, or text", rb"<(\w+:)?(text|tref|foreignObject|flowRoot)\b"),
    ("a picture", rb"<(\w+:)?image\b"),
    ("a mask", rb"\bmask\s*[:=]"),
    ("a filter", rb"\bfilter\s*[:=]\s*[\"']?\s*url"),
    ("a marker", rb"\bmarker(-\w+)?\s*[:=]\s*[\"']?\s*url"),
    ("dashes", rb"stroke-dasharray\s*[:=]\s*[\"']?\s*[\d.]"),
    (FADES, rb"stop-opacity"),
    ("a pattern", rb"<(\w+:)?pattern\b"),
)
"""What is told or left out on purpose, by what stands in a file."""


def cause(path, said):
    """Say why a file is not alike, as far as the file tells."""
    if said.startswith("refused"):
        return said[:70]
    data = path.read_bytes()
    return next((name for name, mark in MARKS if re.search(mark, data)), said or "not known")


def files(folders, count, seed, folder):
    """Choose files; those of one content once."""
    rng = random.Random(seed)
    every = [sorted(p for p in Path(f).rglob("*.svg") if p.is_file()) for f in folders]
    chosen = [p for some in every for p in rng.sample(some, min(count, len(some)))]
    chosen += sorted((ROOT / "tests" / "drawings").glob("*.svg"))
    texts = [(d.__name__, d()[0]) for d in drawn.OWN] + [(n, t) for n, t, _ in drawn.MORE]
    for name, text in texts:
        if text.startswith("<"):
            made = folder / f"{name.replace(' ', '_')}.svg"
            made.write_text(text)
            chosen.append(made)
    seen = set()
    for path in chosen:
        data = path.read_bytes()
        if data not in seen:
            seen.add(data)
            yield path


def main():
    """Compare them all."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("count", type=int)
    parser.add_argument("folder", nargs="*")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--list", action="store_true")
    asked = parser.parse_args()
    solid = 0
    alike, empty, causes, places = 0, 0, Counter(), defaultdict(list)
    with sync_playwright() as play, tempfile.TemporaryDirectory() as name:
        painter = Painter(open_browser(play), Path(name), LONG)
        for path in files(asked.folder, asked.count, asked.seed, Path(name)):
            found = painter.compare(path)
            if found is None:
                empty += 1
            elif found.alike:
                alike += 1
            else:
                again = painter.compare(path, solid=True)
                why = cause(path, found.said)
                if again is not None and again.alike:
                    solid += 1
                    why = "alike where paint is made solid"
                    places[why].append(f"{path}")
                else:
                    off = again or found
                    places[why].append(f"{100 * off.area:7.2f} {100 * off.box:7.2f} {path}")
                causes[why] += 1
    total = alike + sum(causes.values())
    print(
        f"{alike} of {total} files with ink alike as painted: {100 * alike / max(total, 1):.1f} %"
    )
    share = 100 * (alike + solid) / max(total, 1)
    print(f"{alike + solid} where paint is made solid: {share:.1f} %")
    print(f"nothing shows in {empty} more")
    for why, number in causes.most_common():
        print(f"{number:5}  {why}")
        if asked.list:
            print("\n".join(f"       {place}" for place in places[why]))


if __name__ == "__main__":
    main()
