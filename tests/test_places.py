"""Places are values: two things of one name are never taken for one another."""

import re

import numpy as np
import pytest
import shapely
from quilts import SQUARES, STARFISH, planned

from stitchpath.directions import directions
from stitchpath.export.guide import templates

INCH = 25.4

TWO_BLOCKS = SQUARES.replace('["squares"]', '["squares squares"]').replace("size = 6", "size = 10")


def star(at, turn=0, name="starfish", more=""):
    return f"""
[[applique]]
name = "{name}"
file = "starfish.svg"
on = "top"
at = {at}
turn = {turn}
size = 7
fabric = "coral"
thread = "coral"
{more}
"""


THREAD = '[lines]\nditch = "none"\n[threads.coral]\ncolour = "#8e3320"\n'
TWINS = TWO_BLOCKS + star("[5, 5]") + star("[15, 5]", 30) + THREAD


@pytest.fixture(scope="module")
def twins():
    return planned(TWINS, time_limit=1)


def hours(plan, piece):
    """Hours at which the tips of a piece's own lines lie round the place where they meet."""
    within = piece.shape
    ends = [
        tuple(p)
        for line in plan.lines
        if within.intersects(shapely.LineString(line.points))
        for p in (line.points[0], line.points[-1])
    ]
    (hub,) = {p for p in ends if ends.count(p) > 2}
    tips = np.array([p for p in ends if ends.count(p) == 1]) - hub
    # An hour is 30 degrees: angle from twelve, clockwise, by arctangent.
    return {round(np.degrees(np.arctan2(x, -y)) / 30) % 12 or 12 for x, y in tips.tolist()}


def test_the_arms_of_each_of_two_starfish_on_the_top_are_told_by_its_own_clock(twins):
    assert hours(twins, twins.top.pieces[0]) != hours(twins, twins.top.pieces[1])
    told = {piece.number: "" for piece in twins.top.pieces}
    for run, words in zip(twins.runs, directions(twins), strict=True):
        sewn = shapely.union_all([shapely.LineString(leg.points) for leg in run.legs])
        (piece,) = [p for p in twins.top.pieces if p.shape.intersects(sewn)]
        told[piece.number] += " ".join(step.text for step in words.steps)
    for piece in twins.top.pieces:
        said = {int(hour) for hour in re.findall(r"(\d+) o'clock", told[piece.number])}
        assert said == hours(twins, piece)
        assert "fork" not in told[piece.number]
        assert "the centre" in told[piece.number]


def test_two_starfish_on_the_top_have_names_that_tell_which_is_which(twins):
    starts = {run.steps[0].text for run in directions(twins)}
    for place, piece in zip(("A1", "A2"), twins.top.pieces, strict=True):
        assert any(f"the starfish on {place}" in text for text in starts)
        assert twins.places.piece(piece.number) == f"starfish on {place}"


def test_each_template_carries_the_lines_of_its_own_piece(twins):
    for template, piece in zip(templates._pieces(twins), twins.top.pieces, strict=True):  # noqa: SLF001
        corner = np.array(piece.shape.bounds[:2])
        assert template.traced
        for path in template.traced:
            assert piece.shape.buffer(0.1).covers(shapely.LineString(path + corner))


@pytest.mark.parametrize(("step", "told"), [("1/8 in", False), ("1/2 in", True)])
def test_a_raw_edge_beside_a_close_echo_is_not_said_to_have_no_stitching_near(step, told):
    echoed = STARFISH.replace("size = 7", f"size = 7\necho = {{ step = '{step}', count = 1 }}")
    found = [check.code for check in planned(echoed, time_limit=1).checks]
    assert ("raw-edge" in found) == told
