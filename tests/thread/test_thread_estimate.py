"""The estimate by area: a range, and what moves it most."""

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from stitchpath.base.errors import StitchpathError
from stitchpath.lines.fills import styles as fills
from stitchpath.thread import FLAT_RATIO, LAID, Ground, Ratio, Stitching, estimate_by_area
from stitchpath.thread.laid import DECLINED, Motif, laid

INCH = 25.4


def straight(fill, spacing, side):
    for at in np.arange(spacing, side - 1, spacing):
        yield [(0, at), (side, at)]
        if fill == "crosshatch":
            yield [(at, 0), (at, side)]


def spiral(spacing, side):
    turns = math.ceil(side / spacing)
    turn = np.linspace(0, 2 * math.pi * turns, 400 * turns)
    radius = turn * spacing / (2 * math.pi)
    yield np.column_stack([np.cos(turn), np.sin(turn)]) * radius[:, None] + side / 2


def clamshells(spacing, side):
    angle = np.linspace(0, math.pi, 61)
    shell = np.column_stack([np.cos(angle), -np.sin(angle)]) * spacing / 2
    for row, y in enumerate(np.arange(0, side + spacing, spacing / 2)):
        for x in np.arange(-spacing, side + spacing, spacing):
            yield shell + np.array([x + row % 2 * spacing / 2, y])


def orange_peel(spacing, side):
    angle = np.linspace(-math.pi / 4, math.pi / 4, 31)
    radius = spacing / math.sqrt(2)
    arc = np.column_stack([radius * np.sin(angle), radius * np.cos(angle) - spacing / 2])
    for half in np.arange(spacing / 2, side, spacing):
        for whole in np.arange(0, side, spacing):
            for way in (arc, arc * (1, -1)):
                yield way + np.array([half, whole])
                yield way[:, ::-1] + np.array([whole, half])


def drawn(fill, spacing, side):
    """Length of a ruled fill, drawn over a square, cut to it and measured with shapely."""
    curves = {"spiral": spiral, "clamshell": clamshells, "orange peel": orange_peel}
    shapes = curves[fill](spacing, side) if fill in curves else straight(fill, spacing, side)
    lines = shapely.multilinestrings([shapely.linestrings(shape) for shape in shapes])
    return shapely.intersection(lines, shapely.box(0, 0, side, side)).length


@pytest.mark.parametrize("fill", ["parallel", "crosshatch", "spiral", "clamshell", "orange peel"])
def test_a_ruled_fill_is_as_long_as_it_is_drawn(fill):
    # Outside check: the fill drawn over a large square and measured with shapely.
    side, spacing = 600.0, 10.0
    (low, high), found = LAID[fill].drawn, laid(fill, Ground(side, side, spacing)).sewn
    assert low * found <= drawn(fill, spacing, side) <= high * found


BOAT = np.array([[0, 0], [1, 0], [2, 1], [6, 1], [7, 0], [4, 0], [4, -5], [8, 0], [9, 0.0]])
SAILED = np.hypot(*np.diff(BOAT, axis=0).T).sum()


@pytest.mark.parametrize("style", sorted(fills.STYLES))
def test_each_fill_that_a_design_may_ask_for_is_estimated_as_long_as_it_is_made(style):
    ground = Ground(600, 460, 20, motif=Motif(*(np.array([SAILED, 9, 0]) * 0.9 / 6)))
    if style in DECLINED:
        with pytest.raises(StitchpathError, match=rf'found "{style}", expected a fill of a whole'):
            laid(style, ground)
        return
    made = fills.fill(shapely.box(0, 0, 600, 460), style, 20, motif=[BOAT])
    length = sum(shapely.length(shapely.linestrings(path)) for path in made.paths)
    low, high = LAID[style].drawn
    assert low <= length / laid(style, ground).sewn <= high


def test_a_meander_over_a_twin_size_top_by_hand():
    # 60 x 80 in at 1 in is 4800 in of seam; at the flat ratio of 2.5 and 10 % waste 13 200 in.
    likely = estimate_by_area(
        60 * INCH,
        80 * INCH,
        fill="meander",
        spacing=INCH,
        stitching=Stitching(ratio=FLAT_RATIO),
    )
    assert likely.seam.likely == pytest.approx(4800 * INCH, rel=0.02)
    assert likely.thread.likely == pytest.approx(13_200 * INCH, rel=0.02)
    assert likely.top.likely == likely.bobbin.likely
    assert likely.swings[0].what == "how closely the hand lays the fill"


@given(
    side=st.floats(300, 2500),
    fill=st.sampled_from([None, *sorted({*LAID} - {"motif rows"})]),
    spacing=st.floats(5, 80),
    ditch=st.floats(1000, 90_000),
    measured=st.booleans(),
)
@settings(max_examples=25, deadline=None)
def test_a_range_holds_its_likely_value_and_every_input_moved_alone(
    side, fill, spacing, ditch, measured
):
    stitching = Stitching(ratio=Ratio(1.5, 1.4, 0.05, 0.04) if measured else None)
    found = estimate_by_area(
        side, side * 1.2, fill=fill, spacing=spacing, ditch=ditch, stitching=stitching
    )
    for name in ("seam", "top", "bobbin", "thread", "bobbins", "seconds"):
        value = getattr(found, name)
        assert 0 < value.low <= value.likely <= value.high
    for swing in found.swings:
        assert found.thread.low - 1e-6 <= min(swing.thread)
        assert max(swing.thread) <= found.thread.high + 1e-6
    widths = [swing.width for swing in found.swings]
    assert widths == sorted(widths, reverse=True)
    names = {swing.what for swing in found.swings}
    assert ("thickness stitched through" in names) is not measured


def test_a_quilt_twice_as_wide_takes_twice_the_fill_and_no_more_ditch():
    one = estimate_by_area(1000, 1000, fill="crosshatch", spacing=25, ditch=10_000)
    two = estimate_by_area(2000, 1000, fill="crosshatch", spacing=25, ditch=10_000)
    fill = 2 * 1000 * 1000 / 25
    assert two.seam.likely - one.seam.likely == pytest.approx(fill, rel=0.02)


def test_measuring_her_own_thread_narrows_the_range():
    args = {"fill": "parallel", "spacing": 25}
    guessed = estimate_by_area(1500, 2000, **args)
    per_seam = Stitching().per_seam(10 / INCH)
    known = replace(Stitching(), ratio=Ratio(*per_seam, 0.01, 0.01))
    measured = estimate_by_area(1500, 2000, **args, stitching=known)
    assert measured.thread.likely == pytest.approx(guessed.thread.likely)
    assert measured.thread.high < guessed.thread.high
    assert measured.thread.low > guessed.thread.low


@pytest.mark.parametrize(
    ("args", "message"),
    [
        ({}, "neither a fill nor a ditch"),
        ({"fill": "netting", "spacing": 25}, r'"netting".*meander'),
        ({"fill": "meander"}, "spacing: found none"),
        ({"fill": "meander", "spacing": 0}, "spacing: found 0 mm"),
        ({"width": 0, "fill": "meander", "spacing": 25}, "size: found 0 x 900 mm"),
    ],
)
def test_an_estimate_of_nothing_is_asked_back(args, message):
    with pytest.raises(StitchpathError, match=message):
        estimate_by_area(**{"width": 800, "height": 900, **args})
