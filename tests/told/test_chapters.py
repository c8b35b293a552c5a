"""Chapters: would she find a lost place again by the part of the quilt it is on?"""

import re
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from quilts import DESIGNS, SQUARES, layouts, planned

from stitchpath.base.errors import StitchpathError
from stitchpath.design.read import load_design
from stitchpath.plan import make_plan
from stitchpath.told.chapters import _OPENING, _cut, _from, chapters
from stitchpath.told.directions import directions
from stitchpath.top.place import Place


def test_each_boat_and_each_starfish_is_a_chapter(runner):
    names = [chapter.name for chapter in chapters(runner)]
    assert {"boat A1", "boat A3", "boat A5"} <= set(names)
    assert names[:2] == ["the sashing, part 1", "the sashing, part 2"]  # most of it by no column
    assert names[-2:] == ["the starfish on A2", "the starfish on A4"]


def test_most_of_a_boats_chapter_is_sewn_on_or_round_that_boat(runner):
    for chapter in chapters(runner):
        place = chapter.area
        if not isinstance(place, Place) or place.part != "block" or place.column < 0:
            continue
        left, top, right, bottom = runner.places.box(place)
        legs = runner.runs[chapter.run - 1].legs[chapter.first_leg : chapter.last_leg + 1]
        inside = 0.0
        for leg in legs:
            x, y = leg.points.mean(axis=0)
            if left - 0.1 <= x <= right + 0.1 and top - 0.1 <= y <= bottom + 0.1:
                inside += float(np.hypot(*np.diff(leg.points, axis=0).T).sum())
        assert inside > chapter.length / 2


def test_the_sashing_of_a_lap_quilt_is_cut_where_she_can_find_the_rest_again():
    plan = make_plan(load_design(DESIGNS / "star-lap-quilt.toml"), time_limit=0, cures=False)
    found = [chapter for chapter in chapters(plan) if chapter.name.startswith("the sashing")]
    assert sum("row" in chapter.name for chapter in found) > 2
    assert len({chapter.name for chapter in found}) == len(found)
    middles = {b.place.row: b.corners[:, 1].mean() for b in plan.top.blocks}
    for chapter in found:
        assert chapter.last_step - chapter.first_step < 16
        told = re.search(r"rows? ([A-G])(?: to ([A-G]))?", chapter.name)
        if told is None:
            continue
        first, last = told.groups()
        rows = range(ord(first) - 65, ord(last or first) - 64)
        for leg in plan.runs[chapter.run - 1].legs[chapter.first_leg : chapter.last_leg + 1]:
            wide, high = np.ptp(leg.points, axis=0)
            if wide > 10 * high and wide > 1200:  # right across the quilt
                y = leg.points[:, 1].mean()
                assert min(abs(middles[row] - y) for row in rows) < 160  # half a block and a strip


def test_a_chapter_that_begins_in_another_block_says_so():
    text = SQUARES.replace('rows = ["squares"]', 'rows = ["squares*3", "squares*3"]')
    plan = planned(text, time_limit=1)
    row, block = Place("block", row=1), Place("block", 0, 2)
    assert _from(plan, {block: 300.0, Place("sashing"): 400.0}, row) == ", from squares A3"
    assert not _from(plan, {block: 300.0, row: 300.0}, row)
    assert not _from(plan, {}, row)


STRIPED = SQUARES.replace("size = 6", "size = 12").replace(
    "'sand sea', 'sea sand'", "'sand', 'sea', 'sand'"
)


@pytest.mark.parametrize(("blocks", "told"), [(2, False), (3, True)])
def test_a_way_past_three_blocks_or_more_goes_by_the_row(blocks, told):
    plan = planned(STRIPED.replace('rows = ["squares"]', f'rows = ["squares*{blocks}"]'))
    assert ("row A" in {chapter.name for chapter in chapters(plan)}) == told


def test_a_way_round_a_block_belongs_to_it_and_along_bare_blocks_to_the_sashing():
    sashed = SQUARES.replace("size = 6", "size = 8").replace(
        'rows = ["squares"]',
        'rows = ["squares squares", "squares squares"]\n'
        'sashing = { width = 2, fabric = "coral", around = true }',
    )
    names = {chapter.name.partition(", row")[0] for chapter in chapters(planned(sashed))}
    assert names - {"the sashing"} == {"squares A1", "squares A2", "squares B1", "squares B2"}
    bare = sashed.replace("'sand sea', 'sea sand'", "'sand'")
    bare_names = {chapter.name.partition(", row")[0] for chapter in chapters(planned(bare))}
    assert bare_names == {"the sashing"}


@pytest.mark.parametrize(("away", "count"), [(798.0, 1), (802.0, 3)])
def test_a_short_way_off_and_back_opens_no_chapter(away, count):
    assert len(_cut([{"a": 2000.0}, {"b": away}, {"a": 2000.0}])) == count


def test_borders_and_sashing_are_named_in_her_words():
    text = SQUARES.replace(
        'rows = ["squares"]',
        'rows = ["squares squares", "squares squares"]\n'
        'sashing = { width = 2, fabric = "coral", cornerstone = "sea" }\n'
        + "[[layout.borders]]\nwidth = 5\nfabric = 'sea'\n"
        * 2,
    )
    places = planned(text).places
    assert places.area(Place("sashing")) == "the sashing"
    assert places.area(Place("border", number=1)) == "the inner border"
    assert places.area(Place("border", number=2)) == "the outer border"
    assert places.area(Place("block", row=1)) == "row B"
    assert places.area(Place("block", column=1)) == "column 2"
    assert places.area(Place("block", 1, 0)) == "squares B1"


@given(text=layouts())
@settings(max_examples=6, deadline=None)
def test_the_chapters_of_a_run_take_in_every_step_and_leg_once(text):
    try:
        plan = planned(text, time_limit=1)
    except StitchpathError:
        return  # a layout without the seams it asks for
    for run, told in zip(plan.runs, directions(plan), strict=True):
        mine = [chapter for chapter in chapters(plan) if chapter.run == run.number]
        assert mine[0].first_step == mine[0].first_leg == 0
        assert mine[-1].last_step == len(told.steps) - 1
        assert mine[-1].last_leg == len(run.legs) - 1
        for one, other in pairwise(mine):
            assert other.first_step == one.last_step + 1
            assert other.first_leg == one.last_leg + 1
            assert (one.area, one.name) != (other.area, other.name) or one.area is None


@given(
    st.lists(
        st.dictionaries(
            st.sampled_from("abc"), st.sampled_from([50.0, 170.0, 330.0, 900.0]), max_size=3
        ),
        min_size=1,
        max_size=7,
    )
)
@settings(max_examples=60, deadline=None)
def test_no_other_way_of_cutting_costs_less(steps):
    """Against a plain table of all states, as a shortest path is taught (Bellman 1957)."""
    areas = sorted({area for on in steps for area in on}) or ["a"]
    cost = {area: _OPENING - steps[0].get(area, 0.0) for area in areas}
    for on in steps[1:]:
        best = min(cost.values()) + _OPENING
        cost = {area: min(cost[area], best) - on.get(area, 0.0) for area in areas}
    found = _cut(steps)
    ends = [begin for begin, _ in found[1:]] + [len(steps)]
    mine = sum(
        _OPENING - sum(on.get(area, 0.0) for on in steps[begin:end])
        for (begin, area), end in zip(found, ends, strict=True)
    )
    assert mine == pytest.approx(min(cost.values()))
