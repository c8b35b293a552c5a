"""Marks, lines and threads: seen on any fabric, told apart without colour.

Contrast is held against the worked values of WCAG 2.2 (W3C): black on white is 21 : 1, and #767676
the lightest grey that stands 4.5 : 1 on white.
"""

from itertools import combinations, pairwise

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from matplotlib.path import Path

from stitchpath.base.marks import (
    INK,
    LINES,
    MARKS,
    PAPER,
    casing_of,
    casing_reach,
    contrast,
    luminance,
    readable,
    thread_looks,
)
from stitchpath.export.guide.plates import _GAP, _WIDTH
from stitchpath.export.svg.key import ASIDE, PEN

COLOURS = st.integers(0, 0xFFFFFF).map(lambda number: f"#{number:06x}")
THREADS = list(thread_looks([f"thread {k}" for k in range(10)], {}).values())


def test_contrast_is_that_of_the_guidelines():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#767676", "#ffffff") > 4.5 > contrast("#777777", "#ffffff")
    # IEC 61966-2-1 by hand: 0x33 is 0.2, ((0.2 + 0.055) / 1.055) ** 2.4 = 0.0331; below 0.04045 a
    # straight line, 0x0a / 255 / 12.92 = 0.00304.
    assert luminance("#333333") == pytest.approx(0.0331, abs=1e-4)
    assert luminance("#0a0a0a") == pytest.approx(0.00304, abs=1e-5)


@given(COLOURS, st.lists(COLOURS, min_size=1, max_size=4))
@example("#949494", ["#ffffff"])  # 3.03 : 1 by the formula of WCAG 2.2
@example("#999999", ["#ffffff"])  # 2.85 : 1
def test_no_thread_is_lost_on_any_fabric(colour, grounds):
    casing = casing_of(colour, grounds)
    if casing is None:
        assert min(contrast(colour, ground) for ground in grounds) >= 3  # WCAG 2.2, 1.4.11
    else:
        assert contrast(colour, casing) >= 3
        assert min(contrast(colour, ground) for ground in grounds) < 3  # no halo without need


@given(COLOURS, COLOURS)
@example("#767676", "#ffffff")
def test_a_number_in_a_threads_colour_can_be_read(colour, ground):
    far = max(contrast(INK, ground), contrast(PAPER, ground))
    assert contrast(readable(colour, ground), ground) >= min(4.5, far)
    if contrast(colour, ground) >= 4.5:
        assert readable(colour, ground) == colour


def test_a_thread_keeps_its_own_colour_in_its_name_or_as_said():
    looks = thread_looks(["grey", "dark blue"], {"grey": "#808080", "dark blue": "#00008b"})
    assert [look.colour for look in looks.values()] == ["#808080", "#00008b"]


@pytest.mark.parametrize("casing", [PAPER, INK])
def test_a_casing_is_wide_enough_to_be_seen_on_both_sides_of_its_line(casing):
    assert casing_reach(casing) >= 0.3  # of the line: 0.1 mm of the finest, as wide as a hair


def test_a_second_pass_lies_clear_of_its_line():
    """Else she would take two passes for one."""
    both = (LINES["stitch"].width + LINES["again"].width) / 2  # pens
    assert both + 1 < ASIDE / PEN
    assert _GAP > _WIDTH + 0.3  # mm on paper


@pytest.mark.parametrize(("one", "other"), list(combinations(THREADS, 2)))
def test_threads_are_told_apart_in_a_copy_without_colour(one, other):
    wider = max(one.width, other.width) / min(one.width, other.width)
    assert one.dash != other.dash or wider >= 1.5


def _told_apart(one, other):
    """By dash, by place or by width: a thread of its own dash counts as solid, as the first is."""
    a, b = LINES[one], LINES[other]
    wider = max(a.width, b.width) / min(a.width, b.width)
    return (a.dash or ()) != (b.dash or ()) or a.beside != b.beside or wider >= 1.3


@pytest.mark.parametrize(("one", "other"), list(combinations(LINES, 2)))
def test_lines_are_told_apart_in_a_copy_without_colour(one, other):
    shapes = {"low side"}  # ticks, and no line
    done = {"stitch", "done"}  # grey and no other line is what is stitched already, under the rest
    if {one, other} == done:
        assert LINES["done"].colour
        return
    assert _told_apart(one, other) or shapes & {one, other}


def _drawn(name):
    """Draw a mark in black and white, 40 dots to the side; ink is 1."""
    at = np.linspace(-1.4, 1.4, 40)
    dots = np.column_stack([np.tile(at, 40), np.repeat(at, 40)])
    picture = np.zeros(1600)
    for ring, fill in MARKS[name].parts:
        path = Path([*ring, ring[0]])
        picture[path.contains_points(dots, radius=0.0)] = fill == INK
        edge = np.array([*ring, ring[0]])
        for a, b in pairwise(edge):
            along = np.clip(((dots - a) @ (b - a)) / max((b - a) @ (b - a), 1e-9), 0, 1)
            near = np.hypot(*(dots - a - along[:, None] * (b - a)).T) < 0.1
            picture[near] = 1
    return picture


DRAWN = {name: _drawn(name) for name in MARKS}


@pytest.mark.parametrize(("one", "other"), list(combinations(MARKS, 2)))
def test_marks_are_told_apart_by_their_shape_alone(one, other):
    assert np.mean(DRAWN[one] != DRAWN[other]) > 0.04
