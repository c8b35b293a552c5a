"""Places are values: two things of one name are never taken for one another."""

import re

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from quilts import SQUARES, STARFISH, design, layouts, planned

from stitchpath import compare as comparing
from stitchpath import plan as planning
from stitchpath.base.errors import StitchpathError
from stitchpath.checks import cures
from stitchpath.checks.batting import loose_ground, loose_of
from stitchpath.checks.cures import check_loose, survey
from stitchpath.export.guide import plan_guide, templates
from stitchpath.plan import check_design, make_plan
from stitchpath.route.router import UnreachedError
from stitchpath.told import job_rows as jobsheet
from stitchpath.told.directions import directions
from stitchpath.told.landmarks import _its
from stitchpath.told.seams import Course
from stitchpath.told.thread_tables import plan_tables
from stitchpath.top.build import build_top
from stitchpath.top.place import Place, Subject
from stitchpath.top.place_names import Places, _few
from stitchpath.top.spots import Spot

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


def test_of_more_than_twenty_places_the_first_are_named_and_the_others_counted():
    names = [f"A{k}" for k in range(1, 22)]
    assert _few(names[:20]) == names[:20]
    assert _few(names) == [*names[:19], "2 more"]


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


def test_a_fill_holds_a_raw_edge_only_where_it_is_stitched_over_the_piece():
    fill = '[[fills]]\nregion = "A1"\nstyle = "parallel"\nspacing = "1/4 in"\n'
    before = STARFISH.replace("size = 7", 'size = 7\nfused = "before"\ncut_fill = false')
    for text, told in ((STARFISH, True), (before, False)):  # under the piece, and over it
        found = [check.code for check in planned(text + fill, time_limit=1).checks]
        assert ("raw-edge" in found) == told


def test_three_pieces_of_one_name_on_one_block_are_numbered_and_take_no_name_of_another():
    texts = [
        star("[3, 3]", name="star"),
        star("[7, 7]", name="star"),
        star("[3, 7]", name="star 1"),
    ]
    large = SQUARES.replace("size = 6", "size = 10")
    small = "".join(texts).replace("size = 7", "size = 2")
    for text, other in ((small, "star 1"), (small.replace('"top"', '"A1"'), "star 1 on A1")):
        words = Places(build_top(design(large + text + THREAD)))
        assert [words.piece(k) for k in range(3)] == ["star 2 on A1", "star 3 on A1", other]
        assert words.piece(0, the=True) == "star 2 on A1"


def test_an_echo_round_two_pieces_is_named_by_both_and_drawn_in_the_template_of_neither():
    echo = "centre = false\necho = { step = '1/2 in', count = 1 }"
    near = [star(at, more=echo).replace("size = 7", "size = 3") for at in ("[3, 5]", "[6, 5]")]
    plan = planned(TWO_BLOCKS + "".join(near) + THREAD, time_limit=1)
    both = {line.of for line in plan.lines if len(line.of.pieces) > 1}
    assert both == {Subject(pieces=(0, 1), echo=1, echoes=1)}
    (of,) = both
    assert plan.places.subject(of) == "echo of starfish 1 on A1, starfish 2 on A1"
    assert all(not template.traced for template in templates._pieces(plan))  # noqa: SLF001


# Seams and the way walked along them


law = settings(max_examples=10, deadline=None)
SHIPS = """
[[applique]]
name = "starfish"
file = "starfish.svg"
on = "A1"
size = 4
fabric = "coral"
fused = "before"
[threads.dark]
lines = ["centre"]
"""


@law
@given(layouts())
def test_every_leg_knows_its_seam_and_the_way_it_goes_along_it(text):
    try:
        plan = planned(text, time_limit=0.2)
    except StitchpathError as error:
        assume("nothing to stitch" not in str(error))
        raise
    check_ways(plan)


@pytest.mark.parametrize("curved", [False, True])
def test_what_a_piece_leaves_of_a_seam_is_walked_the_way_of_the_seam(curved):
    text = SQUARES
    if curved:  # a disc of coral: its seam is a ring, cut by the piece over it
        text = text.replace(
            "grid = ['sand sea', 'sea sand']",
            """units = 6
patches = [
  { name = "buoy", fabric = "coral", path = "RING" },
  { name = "water", fabric = "sea", path = "M 0 0 H 6 V 6 H 0 Z RING" },
]""",
        )
    text = text.replace("RING", "M 3 1 A 2 2 0 1 1 3 5 A 2 2 0 1 1 3 1 Z")
    plan = planned(text + SHIPS, time_limit=1)
    assert any(len(line.points) and line.seam >= 0 for line in plan.lines)
    check_ways(plan)


def check_ways(plan):
    for run in plan.runs:
        for leg in run.legs:
            if leg.do == "travel" and leg.along != "seam":
                assert leg.seam == -1
                continue
            if leg.seam < 0:
                assert plan.lines[leg.line].kind != "ditch"
                continue
            seam = shapely.LineString(plan.top.seams[leg.seam].points)
            assert seam.buffer(0.01).covers(shapely.LineString(leg.points))
            way = leg.points[1] - leg.points[0]
            at = (leg.points[0] + leg.points[1]) / 2
            along = seam.project(shapely.Point(at))
            a, b = (np.array(seam.interpolate(along + d).coords[0]) for d in (-0.02, 0.02))
            assert leg.ahead == bool(way @ (b - a) > 0)


# Words are made of values


@pytest.mark.parametrize(
    ("spot", "said"),
    [
        (Spot("bottom right corner", "A1"), "its bottom right corner"),
        (Spot("right side", "A1", measure="2 in from its top"), "2 in from its top"),
        (Spot("right side", "A1", "a third of the way down"), "a third of the way down"),
        (Spot("top", "A1", measure="2 in from its left"), "the top of A1, 2 in from its left"),
        (Spot("bottom right corner", "A2"), "the bottom right corner of A2"),
        (Spot("left side", "A2", "halfway down"), "halfway down the left side of A2"),
    ],
)  # fmt: skip
def test_she_reads_its_only_of_the_very_thing_that_she_sews_along(spot, said):
    assert _its(spot, Course("along the right side of A1", "right side", "A1")) == said
    # The corner of A1 is not that of the sashing whose name ends in A1.
    beside = Course("along the top of the sashing right of A1", "top", "the sashing right of A1")
    assert _its(spot, beside) == str(spot)


def test_the_names_of_all_places_are_those_that_a_design_may_use_and_differ():
    text = SQUARES.replace(
        'rows = ["squares"]',
        'rows = ["squares squares", "squares squares"]\nsashing = { width = 1, fabric = "coral", '
        'cornerstone = "sea", around = true }\n[[layout.borders]]\nwidth = 1\nfabric = "sea"\n'
        'corners = "squares"',
    )
    places = list(dict.fromkeys(patch.place for patch in build_top(design(text)).patches))
    names = [place.name for place in places]
    assert len(set(names)) == len(names)
    assert {
        "A1", "B2", "sashing A1-A2", "sashing A1-B1", "sashing left of A1", "sashing below B2",
        "cornerstone 1.1", "border 1 left", "border 1 bottom right",
    } <= set(names)  # fmt: skip
    assert Place("sashing", 1, -1, "bottom", between=True).name == "sashing B-C"


# Loose ground


WIDE = SQUARES.replace("['sand sea', 'sea sand']", "['sand']").replace(
    'rows = ["squares"]',
    'rows = ["squares*3"]\nrepeat = 3\n'
    'sashing = { width = 5, fabric = "sea", cornerstone = "coral" }\n'
    "[batting]\ndistance = '4 in'",
)


def test_ground_that_one_fill_holds_is_told_of_once_in_few_words():
    (found,) = [c.message for c in check_design(design(WIDE)) if c.code == "loose-ground"]
    assert "in the sand in all blocks; the sashing and the cornerstones: 25 circles," in found


def test_ground_that_runs_on_over_the_top_is_told_of_by_blocks_and_strips():
    lines = '[lines]\nditch = "none"\ninclude = [["A1.r1c1", "sashing A1-A2"]]\n'
    (said,) = check_loose(survey(design(WIDE + lines)))
    assert said.message.startswith("Loose ground in all blocks, the sashing and the cornerstones: ")
    corner = lines.replace('"A1.r1c1", "sashing A1-A2"', '"C3.r1c1", "sashing B3-C3"')
    shut = corner.replace("]]", '], ["C3.r1c1", "sashing C2-C3"]]')
    said = [each.message.split(":")[0] for each in check_loose(survey(design(WIDE + shut)))]
    assert "Loose ground in the sand in C3" in said


def test_strips_and_blocks_are_counted_where_they_are_many_and_named_where_they_are_few():
    words = Places(build_top(design(WIDE.replace("repeat = 3", "repeat = 5"))))
    of = {}
    for i, patch in enumerate(words.top.patches):
        of.setdefault(patch.part, []).append(i)
    assert words.units(of["block"]) == "all blocks"
    assert words.units(of["block"][:12]).startswith("A1, A2, A3, B1,")
    assert words.units(of["block"][:13]) == "13 of 15 blocks (such as A1)"
    assert words.units(of["sashing"][:4]).count("the sashing") == 4
    first = words.unit(of["sashing"][0])
    assert words.units(of["sashing"][:5]) == f"5 of 22 strips of sashing (such as {first})"
    assert words.units([*of["sashing"], of["block"][0]]) == "the sashing and A1"


def test_ground_that_needs_another_fill_is_told_of_apart():
    asked = design(WIDE.replace("width = 5", "width = 4.1").replace("'4 in'", "'2 in'"))
    found = [c.message for c in check_loose(survey(asked), lambda _: (1000.0, 60.0))]
    assert [message.split(":")[0] for message in found] == [
        (
            "Loose ground in the sand in all blocks; 6 of 12 strips of sashing (such as the "
            "sashing between A1 and A2)"
        ),  # level lines hold the upright strips, and no others
        "Loose ground in 6 of 12 strips of sashing (such as the sashing between A1 and B1)",
        "Loose ground in the cornerstones",
    ]


def test_each_place_of_loose_ground_is_worded_once(monkeypatch):
    asked = design(WIDE)
    worded = []
    real = Places._unit_words  # noqa: SLF001

    def counted(self, patch):
        worded.append(patch.place)
        return real(self, patch)

    monkeypatch.setattr(Places, "_unit_words", counted)
    check_design(asked)
    assert worded
    assert len(worded) == len(set(worded))
    top = build_top(asked)
    worded.clear()
    loose_ground(top, loose_of(asked, top, []))
    assert worded == []  # sorted by values


# Made once


@pytest.fixture
def count(monkeypatch):
    """Count the calls of a function of a module."""

    def counting(module, name):
        calls, real = [], getattr(module, name)

        def counted(*args, **options):
            calls.append(name)
            return real(*args, **options)

        monkeypatch.setattr(module, name, counted)
        return calls

    return counting


def test_the_job_is_told_once_for_all_that_print_it(count):
    plan = planned(SQUARES)
    calls = count(jobsheet, "_run_rows")
    plan_guide(plan)
    plan_tables(plan)
    assert jobsheet.job_rows(plan) is jobsheet.job_rows(plan)
    assert len(calls) == 1
    assert jobsheet.job_rows(planned(SQUARES)) is not jobsheet.job_rows(plan)


def test_lines_are_made_once_where_there_are_no_gaps_to_close(count):
    calls = count(cures, "collect_lines")
    looked, said = cures.closed_gaps(design(SQUARES + '[batting]\ndistance = "8 in"\n'))
    make_plan(looked.design, looked=looked)
    assert said == []
    assert len(calls) == 1


def test_one_top_is_compared_and_not_six(count):
    tops, lines = count(cures, "build_top"), count(cures, "collect_lines")
    choices, _ = comparing.compare(design(SQUARES + '[lines]\nfeature = ["sea"]\n'), time_limit=1)
    assert len(choices) == 4  # one block has no seams between blocks
    assert len(tops) == 1
    assert len(lines) == 4  # two ways, and twice none to be found


def test_a_line_that_no_run_can_reach_is_told_of_by_its_patches(monkeypatch):
    def unreached(*_, **__):
        raise UnreachedError(0)

    monkeypatch.setattr(planning, "route", unreached)
    with pytest.raises(
        StitchpathError, match=r"no run may reach A1 r\dc\d and A1 r\dc\d, expected"
    ):
        planned(SQUARES)
