"""Route cards: is what one card tells really what is sewn at each of its places?

Cards are walked here leg by leg, from the legs of the plan alone.
"""

import re
from dataclasses import replace
from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from quilts import SQUARES, WALL, layouts, planned

from stitchpath.base.errors import StitchpathError
from stitchpath.base.units import parse_length
from stitchpath.lines.line import Line
from stitchpath.route.runs import Leg, Run
from stitchpath.told import card_words
from stitchpath.told.anchors import _shared_out, pictures
from stitchpath.told.arms import arms_of
from stitchpath.told.card_words import (
    _strokes_told,
    course,
    laid_words,
    spot_words,
    start_words,
    way_words,
)
from stitchpath.told.cards import (
    Card,
    Laid,
    Visit,
    _Alike,
    _loose,
    carded,
    cards,
    laid_on,
    shares,
)
from stitchpath.told.directions import teller_of
from stitchpath.told.feet import feet_put_on
from stitchpath.told.stops import stops
from stitchpath.told.walks import Move, Part, Stroke, Walk, _strokes, moves_of, walks
from stitchpath.top.place import Subject


@pytest.fixture(scope="module")
def wall():
    return planned(WALL, time_limit=1)


def legs_of(plan, walk):
    return plan.runs[walk.run - 1].legs[walk.first_leg : walk.last_leg + 1]


def measured(legs):
    """Everything along legs: how far, where, and what is done there."""
    points = np.concatenate([leg.points for leg in legs])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    ends = np.cumsum([np.hypot(*np.diff(leg.points, axis=0).T).sum() for leg in legs])
    return along, points, ends


def at(along, points, where):
    return np.column_stack([np.interp(where, along, points[:, k]) for k in (0, 1)])


def assert_walked(plan):
    """Walk each card at each of its places: it has to be the legs of the plan, one by one."""
    for card in cards(plan):
        mine = legs_of(plan, card.visits[0].walk)
        along, points, ends = measured(mine)
        for visit in card.visits:
            legs = legs_of(plan, visit.walk)
            there, goal, their_ends = measured(legs)
            assert along[-1] == pytest.approx(there[-1], abs=0.2 * len(card.strokes) + 0.2)
            where = np.linspace(0.0, 1.0, 400)
            walked = visit.laid.onto(at(along, points, where * along[-1]))
            assert np.hypot(*(walked - at(there, goal, where * there[-1])).T).max() < 0.5
            does = [
                [group[min(int(np.searchsorted(e, s * e[-1])), len(group) - 1)].do for s in where]
                for group, e in ((mine, ends), (legs, their_ends))
            ]
            same = np.mean([a == b for a, b in zip(*does, strict=True)])
            assert same > 0.97  # but for a stitch where one becomes the other


def test_a_card_walked_at_each_of_its_places_is_what_the_plan_sews_there(runner, wall):
    assert_walked(runner)
    assert_walked(wall)
    assert sorted(len(card.visits) for card in cards(runner)) == [2, 3]


@given(text=layouts())
@settings(max_examples=6, deadline=None)
def test_cards_of_random_tops_tell_what_is_sewn_and_leave_out_nothing(text):
    try:
        plan = planned(text, time_limit=1)
    except StitchpathError:
        return  # a layout without the seams it asks for
    assert_walked(plan)
    assert_all_told(plan)


def assert_all_told(plan):
    """Every leg that is stitched for the first time stands on one card or in one picture, once."""
    told = [
        (visit.walk.run, k)
        for card in cards(plan)
        for visit in card.visits
        for k in range(visit.walk.first_leg, visit.walk.last_leg + 1)
    ]
    for picture in pictures(plan):
        assert 1 <= len(picture.marks) <= 16
        for mark in picture.marks:
            for walk in mark.row or (mark.walk,):
                strokes = walk.strokes if mark.row else mark.move.strokes
                for stroke in strokes:
                    told += [(walk.run, k) for k in range(stroke.first_leg, stroke.last_leg + 1)]
    assert len(told) == len(set(told))
    fresh = {
        (run.number, k) for run in plan.runs for k, leg in enumerate(run.legs) if leg.do == "stitch"
    }
    assert fresh <= set(told)


def test_all_that_is_stitched_stands_on_a_card_or_in_a_picture(runner, wall):
    assert_all_told(runner)
    assert_all_told(wall)
    for run in runner.runs:
        mine = [walk for walk in walks(runner) if walk.run == run.number]
        assert mine[0].first_leg == 0
        assert mine[-1].last_leg == len(run.legs) - 1
        for one, other in pairwise(mine):
            assert other.first_leg == one.last_leg + 1


QUAY = """
name = "Quay"
[fabrics]
sand = "#e7d5b0"
sea = "#2f6f9f"
coral = "#dc6f50"
[blocks.boat]
size = 8
units = 8
patches = [
  { name = "sky left", fabric = "sand", points = [[0, 0], [4, 0], [1, 5], [0, 5]] },
  { name = "sail", fabric = "coral", points = [[4, 0], [4, 5], [1, 5]] },
  { name = "jib", fabric = "sea", points = [[4, 0], [7, 5], [4, 5]] },
  { name = "sky right", fabric = "sand", points = [[4, 0], [8, 0], [8, 5], [7, 5]] },
  { name = "hull", fabric = "coral", points = [[0, 5], [8, 5], [6.5, 7], [1.5, 7]] },
  { name = "sea left", fabric = "sea", points = [[0, 5], [1.5, 7], [1.5, 8], [0, 8]] },
  { name = "sea right", fabric = "sea", points = [[8, 5], [8, 8], [6.5, 8], [6.5, 7]] },
  { name = "keel", fabric = "sea", points = [[1.5, 7], [6.5, 7], [6.5, 8], [1.5, 8]] },
]
[blocks.light]
size = [8, 16]
units = [8, 16]
patches = [
  { name = "lantern", fabric = "coral", points = [[0, 0], [8, 0], [8, 4], [0, 4]] },
  { name = "tower", fabric = "sand", points = [[2.5, 4], [5.5, 4], [7, 16], [1, 16]] },
  { name = "sky left", fabric = "sea", points = [[0, 4], [2.5, 4], [1, 16], [0, 16]] },
  { name = "sky right", fabric = "sea", points = [[5.5, 4], [8, 4], [8, 16], [7, 16]] },
]
[blocks.water]
size = 8
grid = ["sea"]
[layout]
place = [
  { block = "light", x = 0, y = 0 }, { block = "boat", x = 8, y = 0 },
  { block = "boat", x = 16, y = 0 }, { block = "water", x = 8, y = 8 },
  { block = "water", x = 16, y = 8 },
]
borders = [{ width = 2, fabric = "sea" }]
"""


def test_the_page_leaves_no_way_untold_between_cards_pictures_and_ends_of_runs(runner, wall):
    ways = 0
    for plan in (runner, wall, planned(QUAY, time_limit=0.2)):
        lists = {(visit.walk.run, visit.walk.first_leg): way_words(plan, visit)
                 for card in cards(plan) for visit in card.visits}  # fmt: skip
        drawn = {(walk.run, walk.first_leg) for picture in pictures(plan)
                 for mark in picture.marks for walk in mark.row or (mark.walk,)}  # fmt: skip
        rows = walks(plan)
        for k, walk in enumerate(rows):
            if (walk.run, walk.first_leg) in lists.keys() | drawn:
                continue
            onward = rows[k + 1] if rows[k + 1 : k + 2] and rows[k + 1].run == walk.run else None
            if onward is None:
                before = rows[k - 1].run, rows[k - 1].first_leg
                assert lists[before].endswith(f"; run {walk.run} ends: cut the threads")
            else:
                told = lists[onward.run, onward.first_leg]
                assert any(sign in told for sign in [*"→←↑↓↗↖↘↙", "along the seams to"])
            ways += 1
    assert ways >= 4


@pytest.mark.parametrize(
    ("where", "how"), [("inside", "bury the tails"), ("edge", "cut the threads")]
)
def test_on_the_page_she_is_told_where_a_run_ends_and_how_its_tails_are_kept(runner, where, how):
    last = carded(runner)[1, max(leg for run, leg in carded(runner) if run == 1)][1].walk.last_leg
    first = replace(runner.runs[0], legs=runner.runs[0].legs[: last + 1], end_where=where)
    plan = replace(runner, runs=(first,))
    said = [way_words(plan, visit) for card in cards(plan) for visit in card.visits]
    assert [words.endswith(f"; run 1 ends: {how}") for words in said] == [False, False, True]


def test_among_many_cards_the_mark_alone_tells_where_a_run_begins(runner):
    (card,) = (card for card in cards(runner) if card.visits[0].walk.area.pieces)
    for visit in card.visits:
        assert way_words(runner, visit).startswith(f"run {visit.walk.run} begins: the tip at")
        assert way_words(runner, visit, brief=True) == f"run {visit.walk.run} begins"


def test_a_stroke_that_begins_in_the_margin_and_goes_on_over_the_top_is_not_all_in_the_margin(
    runner,
):
    parts = (Part("travel", "margin", np.array([(0, 0), (0, 12.7)])),
             Part("stitch", "ditch", np.array([(0, 12.7), (0, 76.2)])))  # fmt: skip
    way = Walk(1, 1, 2, None, (Stroke(None, 1, 2, parts),))
    assert _strokes_told(runner, way, "") == "↓ 3 in"
    off = Walk(1, 1, 1, None, (Stroke(None, 1, 1, parts[:1]),))
    assert _strokes_told(runner, off, "") == "↓ 1/2 in in the margin"


def strokes_of(*paths, do="stitch"):
    turn = None
    found = []
    for k, path in enumerate(paths):
        found.append(Stroke(turn, k, k, (Part(do, "ditch", np.array(path, dtype=float)),)))
        turn = "left"
    return found


HOOK = [[(0, 0), (40, 0)], [(40, 0), (40, 25)], [(40, 25), (10, 25)]]


@given(turn=st.floats(-180, 180), over=st.booleans(), x=st.floats(-900, 900), y=st.floats(-900, 0))
@settings(max_examples=60, deadline=None)
def test_a_turned_or_mirrored_copy_is_known_as_such(turn, over, x, y):
    moved = np.array([[20.0, 10.0], [x, y]])
    laid = Laid(turn, over, moved)
    one = strokes_of(*HOOK)
    found = laid_on(one, strokes_of(*(laid.onto(np.array(path)) for path in HOOK)))
    assert found is not None
    assert found.over is over
    for path in HOOK:
        assert found.onto(np.array(path)) == pytest.approx(laid.onto(np.array(path)), abs=0.01)


def test_the_same_lines_in_another_order_or_direction_are_not_called_alike():
    one = strokes_of(*HOOK)
    assert laid_on(one, strokes_of(HOOK[0], HOOK[2], HOOK[1])) is None
    back = [path[::-1] for path in reversed(HOOK)]
    assert laid_on(one, strokes_of(*back)) is None


@pytest.mark.parametrize(("off", "alike"), [(0.18, True), (0.22, False)])
def test_what_differs_by_more_than_a_thread_is_not_called_alike(off, alike):
    other = [*HOOK[:2], [(40, 25), (10 - off, 25)]]
    assert (laid_on(strokes_of(*HOOK), strokes_of(*other)) is not None) is alike


@pytest.mark.parametrize(("aside", "alike"), [(0.2, True), (0.3, False)])
def test_a_stroke_that_ends_a_thread_aside_is_not_called_alike(aside, alike):
    turn = aside / 30  # radians, about where the last stroke begins: it is as long as before
    end = (40 - 30 * np.cos(turn), 25 + 30 * np.sin(turn))
    other = [*HOOK[:2], [(40, 25), end]]
    assert (laid_on(strokes_of(*HOOK), strokes_of(*other)) is not None) is alike


def test_a_line_that_quivers_is_not_called_like_a_straight_one():
    quiver = [(0.25 * k, 0.15 * (k % 2)) for k in range(161)]
    assert laid_on(strokes_of([(0, 0), (40, 0)]), strokes_of(quiver)) is None


def test_a_line_with_its_bump_at_another_place_is_not_called_alike():
    bumps = [[(0, 0), (x, 0), (x + 2, 3), (x + 4, 0), (40, 0)] for x in (4, 12)]
    assert laid_on(*(strokes_of(bump) for bump in bumps)) is None


@pytest.mark.parametrize(("other", "low"), [("foam", True), ("navy", False)])
def test_a_copy_pressed_the_other_way_is_drawn_without_low_sides(other, low):
    star = 'library = "sawtooth star"\nsize = 6\nfabrics = { star = "navy", ground = "foam" }\n'
    text = WALL.partition("[blocks")[0] + (
        f'[blocks.one]\n{star}press = "toward foam"\n'
        f'[blocks.other]\n{star}press = "toward {other}"\n'
        '[layout]\nrows = ["one other"]\n'
        'sashing = { width = 1, fabric = "mist", around = true }\n[lines]\nditch = "all"\n'
    )
    found = [card for card in cards(planned(text, time_limit=1)) if len(card.visits) > 1]
    assert [card.low for card in found] == [low]


def test_out_and_back_is_one_number_and_back_and_further_on_is_two():
    def stroke(turn, a, b):
        return replace(strokes_of([a, b])[0], turn=turn)

    out, back = stroke(None, (0, 0), (30, 0)), stroke("back", (30, 0), (0, 0))
    beyond = stroke("back", (30, 0), (-10, 0))
    assert moves_of([out, back]) == [Move(out, back)]
    assert moves_of([out, beyond]) == [Move(out), Move(beyond)]
    assert moves_of([out, replace(back, turn="left")])[0].back is None


def star_moves(arms, twigs):
    """A star whose arms have so many twigs, each arm sewn the same way from the middle."""
    found = []
    for k in range(arms):
        turn = 2 * np.pi * k / arms
        spun = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
        for n in range(twigs):
            a, b = np.array([10.0 * n, 0]) @ spun, np.array([10.0 * n + 10, 0]) @ spun
            side = np.array([10.0 * n + 14, 6.0 + n]) @ spun
            found += [[a, b], [b, side], [side, b]]
        found.append([np.array([10.0 * twigs, 0]) @ spun, np.zeros(2)])
    strokes = strokes_of(*found)
    return [Move(stroke) for stroke in strokes]


def test_an_arm_that_comes_again_is_drawn_once():
    moves = star_moves(arms=6, twigs=3)
    (share,) = shares(moves)
    assert (share.first, share.last) == (0, 9)
    assert share.again == tuple((10 * k, 10 * k + 9) for k in range(1, 6))


@pytest.mark.parametrize(("arms", "pictures_made"), [(6, 6), (7, 7), (8, 4), (12, 4)])
def test_arms_sewn_each_in_its_own_way_have_a_picture_each_if_there_are_few(arms, pictures_made):
    size = 60 // arms
    found = []
    for k in range(arms):  # a fan of twigs, each arm of other lengths
        points = [np.zeros(2)]
        points += [np.array([5.0 + n + k, 10.0 * n + 1 + k * n]) for n in range(size - 1)]
        found += [[a, b] for a, b in pairwise([*points, np.zeros(2)])]
    moves = [Move(stroke) for stroke in strokes_of(*found)]
    assert len(shares(moves, arms=True)) == pictures_made
    assert len(shares(moves)) == 4  # of a block, all of which is in every picture


@given(count=st.integers(1, 80))
def test_no_picture_holds_more_than_fifteen_numbers(count):
    moves = [
        Move(s) for s in strokes_of(*([(k, k * k), (k + 1, (k + 1) ** 2)] for k in range(count)))
    ]
    found = shares(moves)
    assert [share.first for share in found] == [0, *(share.last + 1 for share in found[:-1])]
    assert found[-1].last == count - 1
    assert max(share.last - share.first + 1 for share in found) <= 15


def test_runs_side_by_side_are_told_as_one_and_no_others(runner):
    lines = [[(0, 10 * k), (500, 10 * k)] for k in range(5)]  # a step of 10 mm
    lines += [[(0, 60), (500, 60)], [(0, 90), (500, 90)]]  # another step: two are no row
    runs = [
        Run(k, 1, "grey", "margin", "margin", (Leg("stitch", np.array(line, dtype=float)),))
        for k, line in enumerate(lines, start=1)
    ]
    (picture,) = pictures(replace(runner, runs=tuple(runs)))
    assert [len(mark.row) for mark in picture.marks] == [5, 0, 0]
    assert picture.marks[0].step == pytest.approx((0, 10))
    assert [mark.number for mark in picture.marks] == [1, 2, 3]


@pytest.mark.parametrize(
    ("at", "rows"),
    [
        ((0, 10), [0, 0]),
        ((0, 10, 20), [3]),
        ((0, 10.15, 20), [3]),  # sewn, no one sees that they lie a thread closer
        ((0, 10.6, 20), [0, 0, 0]),
    ],
)
def test_three_seams_in_even_steps_are_told_as_one(runner, at, rows):
    runs = [
        Run(k, 1, "grey", "margin", "margin", (Leg("stitch", np.array([(0.0, y), (500.0, y)])),))
        for k, y in enumerate(at, start=1)
    ]
    (picture,) = pictures(replace(runner, runs=tuple(runs)))
    assert [len(mark.row) for mark in picture.marks] == rows


@pytest.mark.parametrize(("count", "sizes"), [(16, [16]), (17, [8, 9]), (33, [11, 11, 11])])
def test_long_seams_are_shared_out_evenly_over_pictures_of_up_to_sixteen(runner, count, sizes):
    lines = [np.array([(0.0, k * k), (500.0, k * k)]) for k in range(count)]  # in no even steps
    runs = [
        Run(k, 1, "grey", "margin", "margin", (Leg("stitch", at),)) for k, at in enumerate(lines, 1)
    ]
    assert [len(p.marks) for p in pictures(replace(runner, runs=tuple(runs)))] == sizes


@pytest.mark.parametrize(
    ("counts", "sizes"),
    [((7, 29), [7, 14, 15]), ((1, 1, 1, 17), [10, 10]), ((7, 9), [16])],
)
def test_each_run_has_pictures_of_its_own_where_that_takes_no_more_of_them(counts, sizes):
    runs = [run for run, count in enumerate(counts) for _ in range(count)]
    long = SimpleNamespace(strokes=[SimpleNamespace(points=np.array([(0.0, 0.0), (90.0, 0.0)]))])
    marks = [SimpleNamespace(walk=SimpleNamespace(run=run), row=(), move=long) for run in runs]
    assert sorted(len(part) for part in _shared_out(marks)) == sizes


@pytest.mark.parametrize(("far", "count"), [(30.0, 2), (30.1, 4)])
def test_the_bit_of_margin_at_the_ends_of_a_run_has_no_number(runner, far, count):
    corners = [(-far, 0.0), (0.0, 0.0), (90.0, 90.0), (0.0, 180.0), (-far, 180.0)]
    along = ["margin", "seam", "seam", "margin"]
    ends = [np.array(pair) for pair in pairwise(corners)]
    legs = tuple(Leg("travel", at, along=by) for at, by in zip(ends, along, strict=True))
    run = Run(1, 1, "grey", "margin", "margin", legs)
    assert len(list(_strokes(runner, run, 0, 3))) == count


@pytest.mark.parametrize(
    ("along", "far", "count"),
    [("margin", 30.0, 1), ("margin", 32.0, 3), ("seam", 0.9, 1), ("seam", 1.1, 3)],
)
def test_she_leaves_an_area_only_where_she_goes_off_its_edge(along, far, count):
    plan = planned(
        SQUARES.replace('"squares"]', '"squares*2"]\nsashing = { width = 2, fabric = "sea" }')
    )
    areas = plan.tariff.areas.line.tolist()
    k = next(k for k, line in enumerate(plan.lines) if areas[k] and np.ptp(line.points[:, 1]) < 1)
    points, seam = plan.lines[k].points, plan.lines[k].seam
    off = np.array([points[-1], points[-1] + [0.0, far]])
    legs = (
        Leg("stitch", points, k, seam=seam),
        Leg("travel", off, along=along),
        Leg("travel", off[::-1], along=along),
        Leg("retrace", points[::-1], k, seam=seam),
    )
    assert len(walks(replace(plan, runs=(replace(plan.runs[0], legs=legs),)))) == count


def test_a_block_by_itself_is_one_area_though_she_turns_round_in_the_margin():
    grid = ", ".join(f"'{row}'" for row in [" ".join(["sand", "sea"] * 3)] * 6)
    plan = planned(SQUARES.replace("'sand sea', 'sea sand'", grid).replace("size = 6", "size = 12"))
    inside = [walk for walk in walks(plan) if walk.area is not None]
    assert len(inside) == len(plan.runs)


@pytest.mark.parametrize(
    ("moves", "times", "long", "what", "card"),
    [
        (2, 9, 40.0, "ditch", False),
        (3, 2, 40.0, "ditch", True),
        (5, 1, 40.0, "ditch", False),
        (6, 1, 40.0, "ditch", True),
        (2, 1, 39.0, "ditch", True),  # too small to be seen on a top of a metre
        (1, 1, 39.0, "ditch", False),  # but a number alone
        (1, 1, 40.0, "fill", False),  # a row
        (2, 1, 40.0, "fill", True),
        (1, 1, 40.0, "centre", True),
    ],
)
def test_a_stroke_or_two_are_shown_in_a_picture_of_the_top_and_have_no_card(
    moves, times, long, what, card
):
    paths = [[(0, 20.0 * k), (long, 20.0 * k)] for k in range(moves)]
    strokes = [
        replace(stroke, parts=(replace(stroke.parts[0], what=what),))
        for stroke in strokes_of(*(np.array(path) * [1, 0.1] for path in paths))
    ]
    walk = Walk(1, 0, moves - 1, Subject(motif=0), tuple(strokes))
    group = [_Alike(k, walk, Laid(0.0, over=False, moved=np.zeros((2, 2)))) for k in range(times)]
    plan = SimpleNamespace(top=SimpleNamespace(width=1000.0, height=600.0))
    assert _loose(plan, group) is not card


LOOPS = (
    SQUARES.replace("['sand sea', 'sea sand']", "['sand']")
    + """
[lines]
ditch = "none"
[[fills]]
region = "A1"
style = "loops"
spacing = 2
"""
)


def test_a_row_of_loops_is_sewn_on_and_on_under_one_number():
    plan = planned(LOOPS, time_limit=0.2)
    strokes = [stroke for walk in walks(plan) for stroke in walk.strokes]
    rings = sum(bool(np.all(leg.points[0] == leg.points[-1])) for r in plan.runs for leg in r.legs)
    assert rings > 10  # noded where a loop crosses itself
    assert len(strokes) <= 3  # rows


def branched(plan, turn):
    """Lines through a piece of six arms, each with two twigs."""
    lines = []
    for k in range(6):
        angle = np.radians(60 * k + turn)
        out, across = (
            np.array([np.sin(angle), -np.cos(angle)]),
            np.array([np.cos(angle), np.sin(angle)]),
        )
        fork, tip = 40 * out, 90 * out
        ends = [((0, 0), fork), (fork, tip), (fork, 60 * out - 20 * across)]
        ends.append((fork, 60 * out + 20 * across))
        lines += [
            Line("centre", 1, "coral", np.array([a, b]), Subject(pieces=(0,))) for a, b in ends
        ]
    return replace(plan, lines=tuple(lines))


@pytest.mark.parametrize("turn", [8.0, -8.0, 20.0])
def test_arms_are_numbered_round_the_clock_and_their_twigs_named(runner, turn):
    arms = arms_of(branched(runner, turn), 0)
    assert [arm.number for arm in arms] == [1, 2, 3, 4, 5, 6]
    for k, arm in enumerate(arms):
        away = arm.tips[0].point - arm.middle
        angle = np.degrees(np.arctan2(away[0], -away[1])) % 360
        assert angle == pytest.approx((60 * k + turn) % 360, abs=0.1)
        names = {tip.name: tip.point - arm.middle for tip in arm.tips[1:]}
        assert set(names) == {"left", "right"}
        for name, point in names.items():  # y down: to the right of the arm is clockwise
            cross = away[0] * point[1] - away[1] * point[0]
            assert bool(cross > 0) is (name == "right")


@pytest.mark.parametrize(("turn", "first"), [(-14.0, 346.0), (-16.0, 44.0)])
def test_arm_one_is_the_one_that_she_sees_at_the_top(runner, turn, first):
    arm = arms_of(branched(runner, turn), 0)[0]
    away = arm.tips[0].point - arm.middle
    assert np.degrees(np.arctan2(away[0], -away[1])) % 360 == pytest.approx(first, abs=0.1)


def test_both_starfish_begin_at_the_same_arm_wherever_it_points(runner):
    (card,) = (card for card in cards(runner) if card.visits[0].walk.area.pieces)
    said = [start_words(runner, card, visit) for visit in card.visits]
    assert len({words.partition(", at ")[0] for words in said}) == 1
    for words, visit in zip(said, card.visits, strict=True):
        middle = np.array(runner.top.pieces[visit.walk.area.pieces[0]].shape.centroid.coords[0])
        away = visit.walk.start - middle
        hour = round(np.degrees(np.arctan2(away[0], -away[1])) / 30) % 12 or 12
        assert words.endswith(f"at {hour} o'clock")


@pytest.mark.parametrize(
    ("start", "said"),
    [
        ((0, -90.9), "start at arm 1, at 12 o'clock"),
        ((0, -88.9), ""),  # on the way to the tip, not at it
        ((0, 0.9), "start in the middle"),
        ((0, 1.1), ""),
    ],
)
def test_she_begins_at_the_tip_or_the_middle_only_if_the_needle_is_there(runner, start, said):
    walk = Walk(1, 0, 0, Subject(pieces=(0,)), tuple(strokes_of([start, (0, -40)])))
    visit = Visit(1, walk, Laid(0.0, over=False, moved=np.zeros((2, 2))))
    card = Card(1, walk.strokes, (visit,), low=True)
    assert start_words(branched(runner, 0.0), card, visit) == said


ARROWS = {"→": (1, 0), "←": (-1, 0), "↑": (0, -1), "↓": (0, 1)}


def test_the_arrows_of_the_list_lead_from_area_to_area(runner, wall):
    """A length is rounded to 1/4 in, so each stroke may be 1/8 in out."""
    followed = 0
    for plan in (runner, wall):
        rows = walks(plan)
        before = {(b.run, b.first_leg): k for k, b in enumerate(rows[1:])}
        for card in cards(plan):
            for visit in card.visits:
                words = way_words(plan, visit)
                if words[0] not in ARROWS or any(a in words for a in "↗↖↘↙"):
                    continue
                k = before[visit.walk.run, visit.walk.first_leg]
                at_last = rows[k - 1].stop if rows[k].area is None else rows[k].stop
                steps = words.partition(";")[0].split(", ")
                for step in steps:
                    far = parse_length(step[2:].replace(" in the margin", ""), "in")
                    at_last = at_last + np.array(ARROWS[step[0]]) * far
                assert np.abs(at_last - visit.walk.start).max() < 3.3 * len(steps)
                followed += 1
    assert followed >= 4


@pytest.mark.parametrize(
    ("turn", "over", "said"),
    [
        (0.0, False, "as drawn"),
        (1.9, False, "as drawn"),
        (2.1, False, "turned 2° right"),
        (87.4, False, "turned 87° right"),
        (88.6, False, "¼ turn right"),
        (-177.4, False, "turned 177° left"),
        (-178.6, False, "upside down"),
        (90.0, False, "¼ turn right"),
        (-90.0, False, "¼ turn left"),
        (179.9, False, "upside down"),
        (0.0, True, "mirrored"),
        (-8.0, True, "mirrored, turned 8° left"),
    ],
)
def test_how_a_card_lies_is_said_as_one_turns_a_page(turn, over, said):
    assert laid_words(Laid(turn, over, np.zeros((2, 2)))) == said


@pytest.mark.parametrize(
    ("count", "told"),
    [(5, "→ 1 in, ↓ 1 in, → 1 in, ↓ 1 in, → 1 in"), (6, "6 in along the seams to the ")],
)
def test_a_way_of_up_to_five_strokes_is_told_by_arrows_and_a_longer_one_by_its_end(
    runner, count, told
):
    steps = [(25.4 * ((k + 1) // 2), 25.4 * (k // 2)) for k in range(count + 1)]
    way = Walk(1, 1, count, None, tuple(strokes_of(*pairwise(steps), do="travel")))
    end = next(walk for walk in walks(runner) if walk.area)
    said = _strokes_told(runner, way, teller_of(runner).marks.at(end.start))
    assert said.startswith(told)


@pytest.mark.parametrize(
    ("names", "said"), [("abc", "a, b and c"), ("abcd", "a, b and c and more")]
)
def test_a_card_of_many_sorts_of_areas_names_three(runner, monkeypatch, names, said):
    (card, *_) = cards(runner)
    some = iter(names)
    monkeypatch.setattr(card_words, "_plain", lambda *_: next(some))
    visits = card.visits[:1] * len(names)
    assert card_words.card_name(runner, replace(card, visits=visits)) == said


def test_a_bobbin_is_changed_where_the_cards_say(runner):
    told = {visit.walk.run: card for card in cards(runner) for visit in card.visits}
    assert told
    for run in runner.runs:
        for k in range(0, len(run.legs), 7):
            said = spot_words(runner, run.number, k)
            number, of_card, in_picture = re.fullmatch(
                r"(?:number (\d+) (?:of card (\d+) at \w+|in picture (\d+))|on the way to card.*"
                r"|at the end of run \d)", said
            ).groups()  # fmt: skip
            if of_card:
                moves = [
                    moves_of(visit.walk.strokes)[int(number) - 1]
                    for visit in cards(runner)[int(of_card) - 1].visits
                    if visit.walk.run == run.number
                ]
            elif in_picture:
                marks = pictures(runner)[int(in_picture) - 1].marks
                moves = [mark.move for mark in marks if mark.number == int(number)]
            else:
                continue
            spans = [(move.out.first_leg, move.strokes[-1].last_leg) for move in moves]
            assert any(first <= k <= last for first, last in spans)


def test_what_comes_when_names_every_area_once_and_every_stop(runner):
    entries = course(runner)
    kinds = [entry.kind for entry in entries]
    assert kinds == ["stop", "picture", "card", "stop", "card"]
    said = "\n".join(entry.text for entry in entries)
    for place in ("A1", "A2", "A3", "A4", "A5"):
        assert said.count(place) == 1
    for text in (entry.text for entry in entries if entry.kind == "card"):
        first, last, places = re.search(r"\((\d+)(?: to (\d+))?\): (.*)", text).groups()
        assert int(last or first) - int(first) == places.count(", ")
    for stop in stops(runner):
        assert (stop.heading in said) is (stop.kind in ("start", "run") and not stop.plain)


def test_a_foot_that_is_put_on_in_mid_run_is_told_where_it_is(runner):
    cut = walks(runner)[2]  # a way between two boats
    assert cut.area is None
    (card, *_) = cards(runner)
    before = [way_words(runner, visit) for visit in card.visits]
    runner.made[feet_put_on.__wrapped__, ()] = {(cut.run, cut.first_leg): "free-motion"}
    try:
        after = [way_words(runner, visit) for visit in card.visits]
    finally:
        del runner.made[feet_put_on.__wrapped__, ()]
    assert [a.removeprefix(b) for a, b in zip(after, before, strict=True)] == [
        "", "; needle down, put on the free-motion foot", ""
    ]  # fmt: skip


def test_a_block_has_the_name_its_maker_gave_it_on_the_list_too():
    text = WALL.replace("[layout]", '[layout]\nnames = { B2 = "Flagship" }')
    plan = planned(text, time_limit=0)
    told = " ".join(entry.text for entry in course(plan))
    assert "Flagship" in told
    assert "B2" not in told
    (walk,) = [w for w in walks(plan) if w.area and w.area.place and w.area.place.name == "B2"]
    assert spot_words(plan, walk.run, walk.first_leg).endswith("at Flagship")
