"""What is read of an SVG file is what a browser paints, or she plans what she did not draw."""

import importlib.util
import random
from pathlib import Path

import pytest
from any_svg import any_svg
from inked import Painter

SHIPPED = ("fontawesomefree", "ipykernel", "matplotlib", "networkx", "pdoc", "playwright")
LONG = 700  # pixels


@pytest.fixture(scope="module")
def painter(real_browser, tmp_path_factory):
    return Painter(real_browser, tmp_path_factory.mktemp("inked"), LONG)


def shipped():
    """Some SVG files of packages that the tests want anyway, from each as many as may be."""
    rng = random.Random(17)
    chosen = []
    for name in SHIPPED:
        spec = importlib.util.find_spec(name)
        if spec is not None and spec.origin:
            every = sorted(Path(spec.origin).parent.rglob("*.svg"))
            chosen += rng.sample(every, min(len(every), 12))
    return rng.sample(chosen, min(len(chosen), 30))


def off(painter, paths):
    """Those that are not as the browser paints them, with how far box and area are off."""
    found = [painter.compare(path, solid=True) for path in paths]
    seen = [each for each in found if each is not None]
    return len(seen), [(e.name, e.box, e.area, e.said) for e in seen if not e.alike]


def test_files_of_any_make_cover_what_a_browser_paints_to_a_five_hundredth(painter, tmp_path):
    paths = []
    for seed in range(30):
        paths.append(tmp_path / f"{seed}.svg")
        paths[-1].write_text(any_svg(random.Random(seed)))
    assert off(painter, paths) == (30, [])


def test_files_of_packages_cover_what_a_browser_paints_to_a_five_hundredth(painter):
    many, wrong = off(painter, shipped())
    assert many >= 25
    assert len(wrong) <= many / 10, wrong
