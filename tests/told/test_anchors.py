"""Pictures of what no card tells: each of what lies together, with room for its numbers."""

import numpy as np
import pytest
from drawn import line, svg

from stitchpath import load_design, make_plan
from stitchpath.geometry.polylines import path_lengths
from stitchpath.told.anchors import pictures
from stitchpath.told.walks import evenly

ENDS = (40, 460)  # mm: where two small grids lie, far from each other


@pytest.fixture(scope="module")
def shared_out(tmp_path_factory):
    """Pictures of a strip that has no blocks: two small grids, joined by long seams."""
    long = [line(0, y, 600, y) for y in (0, 30, 150, 180)] + [line(x, 0, x, 180) for x in (0, 600)]
    small = [line(x + 25 * k, 30, x + 25 * k, 150) for x in ENDS for k in range(5)]
    small += [line(x, 30 + 24 * k, x + 100, 30 + 24 * k) for x in ENDS for k in range(5)]
    folder = tmp_path_factory.mktemp("strip")
    (folder / "strip.svg").write_text(svg(("600mm", "180mm"), "0 0 600 180", *long, *small))
    (folder / "strip.toml").write_text(
        'name = "Strip"\nunit = "cm"\n[top]\ndrawing = "strip.svg"\n'
    )
    plan = make_plan(load_design(folder / "strip.toml"), time_limit=0, cures=False)
    return pictures(plan)


def drawn(marks):
    return [[stroke.points for stroke in mark.move.strokes] for mark in marks]


def covered(marks):
    """Count lines that a number hides, where a picture shows these: they are too short for it."""
    points = np.concatenate([part for strokes in drawn(marks) for part in strokes])
    least = 0.06 * np.ptp(points, axis=0).max()
    return sum(path_lengths(strokes).sum() < least for strokes in drawn(marks))


def test_what_lies_together_is_in_one_picture_so_that_its_numbers_have_room(shared_out):
    marks = [mark for picture in shared_out for mark in picture.marks]
    assert [mark.number for mark in marks] == list(range(1, len(marks) + 1))
    assert max(len(picture.marks) for picture in shared_out) <= 16
    even = evenly(len(marks), 16)
    assert len(shared_out) <= len(even) + 1
    hidden = sum(covered(picture.marks) for picture in shared_out)
    assert hidden < sum(covered(marks[a:b]) for a, b in even)
