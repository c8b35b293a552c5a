"""Rows of a motif: nested, offset, mirrored, off the edge; and what is wrong with a motif."""

from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from quilts import DESIGNS, SQUARES, design, planned, verify
from shapely import LineString, MultiLineString, Point, box

from stitchpath.base.errors import StitchpathError
from stitchpath.design.drawings.outlines import read_lines
from stitchpath.geometry.tolerances import MOTIF_SHARE
from stitchpath.lines.fills.motif_flaws import motif_flaws
from stitchpath.lines.fills.nested import apart
from stitchpath.lines.fills.stagger import Rows
from stitchpath.lines.fills.styles import fill

BOAT = np.array(
    [[0, 0], [1, 0], [2, 1], [6, 1], [7, 0], [4, 0], [4, -5], [7.5, -1], [8, 0], [9, 0]]
)
T = np.linspace(0, 1, 60)
SWELL = np.column_stack([40 * T, -12 * np.sin(2 * np.pi * T)])
CREST = np.column_stack([50 * T, -20 * np.sin(np.pi * T) ** 2])
WIDE = box(0, 0, 400, 300)
others = st.sampled_from(["alike", "mirrored", "upside down"])
motifs = st.sampled_from([BOAT, SWELL, CREST])


def rows_of(ground, motif, spacing, rows, **more):
    """Fill, and give the rows from the top down."""
    paths = fill(ground, "motif rows", spacing, motif=[motif], rows=rows, **more).paths
    return sorted(paths, key=lambda path: float(path[:, 1].mean()))


@settings(max_examples=15, deadline=None)
@given(motifs, st.floats(2, 15), st.floats(0, 1), others)
def test_nested_rows_come_as_near_as_asked_and_no_nearer(motif, gap, offset, other):
    rows = rows_of(WIDE, motif, 40, Rows(offset, other, gap))
    gaps = [LineString(a).distance(LineString(b)) for a, b in pairwise(rows)]
    assert min(gaps) > gap - 0.01
    assert max(gaps) < gap + 40 / len(rows)  # what is left over is shared out
    assert (
        shapely.union_all([LineString(row) for row in rows]).difference(WIDE.buffer(1e-6)).is_empty
    )


@settings(max_examples=15, deadline=None)
@given(motifs, st.floats(0.5, 20), st.floats(0, 1), others)
def test_the_way_to_the_next_row_is_what_shapely_measures(motif, gap, offset, other):
    lines = [Rows(offset, other).line(motif, k) for k in (0, 1)]
    length = float(motif[-1, 0])
    down = apart(*lines, length, gap)
    upper, lower = (
        LineString(np.concatenate([line + np.array([k * length, 0]) for k in range(-3, 4)]))
        for line in lines
    )
    far = upper.distance(shapely.affinity.translate(lower, 0, down))
    assert gap - 1e-9 <= far <= gap + 0.02 * length


def test_rows_that_nest_in_line_lie_closer_than_rows_of_their_own():
    own = rows_of(WIDE, SWELL, 40, Rows(0.0))
    nested = rows_of(WIDE, SWELL, 40, Rows(0.0, gap=10))
    assert len(nested) > 1.5 * len(own)


@pytest.mark.parametrize("gap", [None, 8.0])
def test_a_row_has_a_whole_number_of_motifs_from_side_to_side(gap):
    for row in rows_of(WIDE, CREST, 30, Rows(0.0, gap=gap)):
        assert row[[0, -1], 0].tolist() == pytest.approx([0, 400])
        assert row[0, 1] == pytest.approx(row[-1, 1])
        middle = LineString([(0, float(np.ptp(row[:, 1])) / 2 + row[:, 1].min()), (400, 0)])
        middle = LineString([(0, middle.coords[0][1]), (400, middle.coords[0][1])])
        crossings = shapely.get_num_geometries(LineString(row).intersection(middle))
        assert crossings % 2 == 0
        assert crossings > 6


def masts(row):
    """Where masts stand, and which way their sails hang: 1 to the right."""
    top = np.flatnonzero(np.abs(row[:, 1] - row[1:-1, 1].min()) < 0.01)
    return row[top, 0], np.sign(row[top + 1, 0] - row[top, 0])


def test_mirrored_rows_sail_back_as_the_thread_does():
    one, two = rows_of(WIDE, BOAT, 40, Rows(other="mirrored"))[:2]
    assert set(masts(one)[1]) == {1}
    # Walked from left to right, the mast of a mirrored boat comes after its sail.
    before = np.flatnonzero(np.abs(two[:, 1] - two[1:-1, 1].min()) < 0.01) - 1
    assert (two[before, 0] < two[before + 1, 0] - 1).all()


def test_rows_upside_down_hang_from_their_own_line():
    one, two = rows_of(WIDE, BOAT, 40, Rows(0.0, "upside down"))[:2]
    assert np.median(one[:, 1]) > (one[:, 1].min() + one[:, 1].max()) / 2
    assert np.median(two[:, 1]) < (two[:, 1].min() + two[:, 1].max()) / 2


def test_rows_off_the_edge_are_in_proportion_and_cut_there():
    high = 300 / 8
    for row in rows_of(WIDE, CREST, 40, Rows(0.0, ends="off the edge"))[1:-1]:
        crest = row[:, 1].min()
        tops = row[np.abs(row[:, 1] - crest) < 0.05 * high, 0]
        lone = tops[np.diff(tops, prepend=-100) > 10]
        # As high as nine tenths of its row, and as long as it is drawn to that.
        assert np.diff(lone) == pytest.approx(50 / 20 * 0.9 * high, rel=0.03)
        assert {round(float(x), 6) for x in row[[0, -1], 0]} == {0.0, 400.0}


@settings(max_examples=10, deadline=None)
@given(motifs, st.sampled_from([None, 5.0]), st.floats(60, 110), others, st.integers(0, 90))
def test_nothing_is_stitched_outside_a_round_ground(motif, gap, radius, other, angle):
    ground = Point(0, 0).buffer(radius)
    ends = "off the edge" if gap is None else "whole"
    paths = rows_of(ground, motif, 25, Rows(0.5, other, gap, ends), angle=angle)
    assert paths
    assert MultiLineString(paths).difference(ground.buffer(2e-3)).length < 1e-3


@pytest.mark.parametrize(
    ("motif", "said"),
    [
        (BOAT, []),
        ([[0, 0], [2, -1], [4, 1]], ["ends 25 % of its length lower on the right"]),
        ([[0, 0], [2, -1], [4, -1]], ["ends 25 % of its length higher on the right"]),
        ([[4, 1], [2, -1], [0, 0]], ["ends 25 % of its length lower on the right"]),
        ([[0, 0], [6, -3], [6, 3], [2, -3], [9, 0]], ["crosses itself 3 times"]),
        ([[0, 0], [5, 0], [5, -4], [5, 0], [9, 0]], ["runs over itself along 24 %"]),
        ([[0, 0], [6, -2], [6, 2], [4, 0]], ["reaches over its own end and crosses the next"]),
    ],
)
def test_the_flaws_of_a_motif_are_told_before_a_top_is_stitched_with_it(motif, said):
    found = list(motif_flaws([np.array(motif, dtype=float)]))
    assert len(found) == len(said)
    assert all(one.startswith(two) for one, two in zip(found, said, strict=True))


ROWS = '[[fills]]\nregion = "top"\nstyle = "motif rows"\nspacing = "1 in"\nmotif = "breaker.svg"\n'


def test_interlocking_rows_of_a_drawn_motif_are_planned_and_its_loop_is_told():
    text = SQUARES + '[lines]\nditch = "none"\n' + ROWS
    text = text.replace('"1 in"', '"1.7 in"')
    plan = planned(text + 'gap = "1/4 in"\nother_rows = "upside down"\nends = "off the edge"\n')
    verify(plan)
    told = [check.message for check in plan.checks if check.code in {"motif", "whole-fill"}]
    assert "Motif rows all over: the motif crosses itself once, as a loop does." in told
    assert any("rows of the motif are" in one and "come out whole" in one for one in told)


@pytest.mark.parametrize("key", ["offset = 0.3", 'gap = "1/4 in"', 'ends = "off the edge"'])
def test_what_is_said_of_rows_of_a_motif_is_asked_back_of_other_fills(key):
    meander = f'[[fills]]\nregion = "top"\nstyle = "meander"\nspacing = "1 in"\n{key}\n'
    with pytest.raises(StitchpathError, match=r"for meander, expected it with style"):
        design(SQUARES + meander)


CURL = read_lines(DESIGNS / "breaker.svg", None, "", MOTIF_SHARE)


@settings(max_examples=10, deadline=None)
@given(st.floats(30, 60), others, st.sampled_from([None, 8.0]), st.floats(0, 1))
def test_a_loop_that_the_edge_cuts_off_is_not_left_hanging(spacing, other, gap, offset):
    rows = Rows(offset, other, gap, "off the edge")
    paths = fill(WIDE, "motif rows", spacing, motif=CURL, rows=rows).paths
    ends = np.concatenate([path[[0, -1]] for path in paths])
    assert shapely.distance(WIDE.exterior, shapely.points(ends)).max() < 1e-6
