"""Batting: what is loose is found and named, cured at the least cost, and uneven ground told of."""

import re

import numpy as np
import pytest
import shapely
from quilts import DESIGNS, SQUARES, design

from stitchpath.base.errors import StitchpathError
from stitchpath.checks.batting import loose_of, region_densities
from stitchpath.checks.cures import cheapest_cure, close_gaps, remedies, survey
from stitchpath.design.read import load_design
from stitchpath.export.picture import draw_top
from stitchpath.plan import check_design, lines_of, make_plan

INCH = 25.4
TWO = SQUARES.replace('["squares"]', '["squares squares"]')
OPEN = TWO + '[lines]\nditch = "blocks"\n'  # only the seam between the two blocks is stitched


def checks(text, code="loose-ground"):
    return [c for c in check_design(design(text)) if c.code == code]


def distances(lines, top, spacing):
    """Measure by brute force how far grid points are from all stitching and from the edge."""
    left, upper, right, lower = top.bounds
    x, y = np.meshgrid(
        np.arange(left, right, spacing) + spacing / 2,
        np.arange(upper, lower, spacing) + spacing / 2,
    )
    held = shapely.union_all([top.boundary, *(shapely.LineString(line) for line in lines)])
    return shapely.distance(held, shapely.points(x, y))


def test_open_ground_is_named_with_its_block_and_ringed_where_it_lies():
    found = checks(OPEN + '[batting]\ndistance = "4 in"\n')
    assert len(found) == 1
    assert found[0].level == "warning"
    assert "A1 and A2: 2 circles, the widest 6 in wide" in found[0].message
    assert found[0].at == pytest.approx((3 * INCH, 3 * INCH), abs=0.01)


@pytest.mark.parametrize(
    ("batting", "loose"),
    [
        ("", False),  # no batting named: nothing to hold it against
        ('kind = "unstabilised cotton"', True),  # 2 in
        ('kind = "needle-punched cotton"', False),  # 4 in
        ('kind = "needle-punched cotton"\ndistance = "2 1/2 in"', True),  # the label decides
        ('kind = "unstabilised cotton"\ndistance = "4 in"', False),
        ('distance = "3 in"', False),  # exactly as wide as the label allows
    ],
)
def test_the_label_decides_and_else_the_kind_of_batting(batting, loose):
    assert bool(checks(f"{SQUARES}[batting]\n{batting}\n")) == loose


def test_another_batting_can_be_asked_about_by_distance_or_by_kind():
    asked = design(SQUARES + '[batting]\ndistance = "5 in"\n')
    assert asked.held_by("2in").batting.holds == pytest.approx(2 * INCH)
    assert asked.held_by("5").batting.holds == pytest.approx(5 * INCH)
    assert asked.held_by("wool").batting.holds == pytest.approx(3 * INCH)
    for wrong in ("wadding", "2 spans", "0 in"):
        with pytest.raises(StitchpathError, match=r"^batting: .*expected"):
            asked.held_by(wrong)


def test_a_kind_of_batting_nobody_knows_is_told_of_with_its_place():
    with pytest.raises(StitchpathError, match=r"batting\.kind.*nearest is 'polyester'"):
        design(SQUARES + '[batting]\nkind = "polyestr"\n')


def test_dense_quilting_beside_open_ground_is_warned_of():
    text = (
        TWO.replace('["squares squares"]', '["squares fine"]')
        + "[blocks.fine]\nsize = 6\ngrid = ["
        + ", ".join(["'" + " ".join(["sand", "sea"] * 6) + "'"] * 12)
        + "]\n"
    )
    (found,) = checks(text + "[batting]\nuneven = 2\n", "uneven-density")
    # 132 in of seams in A2 and 12 in A1, half of the 6 in between, and 18 in of the edge each
    assert found.message.startswith("A1 is quilted 4.6 times less densely than A2 beside: ")
    assert checks(text + "[batting]\nuneven = 20\n", "uneven-density") == []


def test_density_by_region_adds_up_to_all_that_is_stitched():
    asked = load_design(DESIGNS / "star-lap-quilt.toml")
    top, lines = lines_of(asked)
    areas = {}
    for patch in top.patches:
        areas[patch.place] = areas.get(patch.place, 0) + patch.polygon.area
    dense = [metres for _, metres in region_densities(top, lines)]
    total = sum(d * a / 1000 for d, a in zip(dense, areas.values(), strict=True))
    stitched = sum(shapely.LineString(line.points).length for line in lines)
    # A little is lost where corners of regions meet, within the 0.1 mm that counts as touching.
    assert total == pytest.approx(stitched, rel=2e-3)


def test_the_picture_rings_what_is_loose():
    found = survey(design(OPEN + '[batting]\ndistance = "4 in"\n'))
    plain = draw_top(found.top, found.lines, "svg", {})
    ringed = draw_top(found.top, found.lines, "svg", {}, loose=found.loose)
    rings, _in_the_key = re.findall(rb'<path d="([^"]+)"[^>]*#c2185b', ringed)
    assert rings.count(b"M ") == 2
    assert b"#c2185b" not in plain
    said = b"no stitching in it"
    assert said in ringed
    assert said not in plain


def test_the_cheapest_cure_of_a_block_is_told_with_thread_and_minutes():
    (found,) = checks(OPEN + '[batting]\ndistance = "5 1/2 in"\n')
    assert "Cheapest cure: " in found.message
    said = 'stitch the left seam between "sand" and "sea" in every squares ('
    assert said in found.message  # in both blocks
    assert re.search(r"of thread and \d+ seconds more\)", found.message)


def test_a_cure_holds_and_none_that_was_tried_takes_less_time():
    found = survey(design(OPEN + '[batting]\ndistance = "4 in"\n'))
    place = found.loose[0]
    cure = cheapest_cure(found, place)
    seams = cheapest_cure(survey(design(TWO + '[batting]\ndistance = "2 in"\n')), place)
    assert cure is not None
    assert cure.seconds > 0
    assert cure.thread > 2 * cure.length  # a lockstitch takes more than its seam, twice
    assert seams is not None
    assert seams.fill is not None  # every seam is stitched there already


def test_gaps_are_closed_with_seams_before_fills():
    closed, said = close_gaps(design(OPEN + '[batting]\ndistance = "4 in"\n'))
    assert closed.fills == []
    assert said
    assert all(re.match("added the .*seam between ", each) for each in said)
    top, lines = lines_of(closed)
    far = distances([line.points for line in lines], top.outline, 2.0)
    assert 2 * far.max() <= 4 * INCH + 1e-6


def test_a_seam_that_is_added_in_one_block_is_added_in_its_like():
    held = '[lines]\nditch = "blocks"\ninclude = [["A2.r1c1", "A2.r1c2"], ["A2.r2c1", "A2.r2c2"]]\n'
    text = SQUARES.replace('["squares"]', '["squares squares"]') + held
    alone = survey(design(text + '[batting]\ndistance = "4 in"\n'))
    assert {alone.words.unit(patch) for patch in range(4)} == {"A1"}
    assert all(place.x < 6 * INCH for place in alone.loose)  # A2 is held as it is
    closed, _ = close_gaps(alone.design)
    within = {
        block: {
            tuple(sorted(name.removeprefix(block) for name in pair))
            for pair in closed.lines.include
            if all(name.startswith(block) for name in pair)
        }
        for block in ("A1", "A2")
    }
    assert within["A1"]
    assert within["A1"] <= within["A2"]


def test_seams_left_out_by_hand_stay_out_and_a_fill_does_it():
    text = (
        SQUARES
        + '[lines]\nexclude = [["A1.r1c1", "A1.r1c2"], ["A1.r1c1", "A1.r2c1"],'
        + ' ["A1.r1c2", "A1.r2c2"]]\n[batting]\ndistance = "2 in"\n'
    )
    closed, said = close_gaps(design(text))
    assert closed.lines.include == []
    assert closed.fills
    assert said[0].startswith("added a fill: ")
    top, lines = lines_of(closed)
    far = distances([line.points for line in lines], top.outline, 1.0)
    assert 2 * far.max() <= 2 * INCH + 1e-6


def test_a_fill_that_is_too_open_is_tightened():
    text = SQUARES + '[batting]\ndistance = "1 in"\n'
    text += '[[fills]]\nregion = "A1"\nstyle = "parallel"\nspacing = "3 in"\n'
    closed, said = close_gaps(design(text))
    assert closed.fills[0].spacing < 3 * INCH
    assert any(each.startswith("tightened fills[1]") for each in said)
    top, lines = lines_of(closed)
    assert 2 * distances([x.points for x in lines], top.outline, 1.0).max() <= INCH + 1e-6


def test_gaps_cannot_be_closed_for_a_batting_nobody_named():
    with pytest.raises(StitchpathError, match="found no batting"):
        close_gaps(design(SQUARES))


FINE = "[blocks.fine]\nsize = 6\ngrid = [" + ", ".join(["'" + "sand sea " * 6 + "'"] * 12) + "]\n"
PLAIN = "[blocks.plain]\nsize = 6\ngrid = ['sand']\n"


def uneven(rows, rest="", lines=""):
    text = SQUARES.replace('rows = ["squares"]', f"rows = {rows}\n{rest}") + FINE + PLAIN
    return [c.message for c in check_design(design(text + lines)) if c.code == "uneven-density"]


def test_all_ground_without_quilting_is_told_in_one_sentence_by_name():
    border = '[[layout.borders]]\nwidth = 4\nfabric = "sea"\n'
    said = uneven('["plain fine plain", "fine fine fine"]', border)
    assert len(said) == 1
    assert said[0].startswith("The border, A1 and A3 have no quilting within the seams: ")


def test_ground_less_quilted_is_told_by_how_much_beside_ground_with_none():
    fill = '[[fills]]\nregion = "A1"\nstyle = "parallel"\nspacing = 3\n'
    (said,) = uneven('["plain fine plain"]', lines=fill)
    assert re.match(
        r"A3 has no quilting within the seams; A1 is quilted 5\.5 times less densely than A2 ",
        said,
    )


def test_ground_quilted_as_closely_as_the_warning_says_is_warned_of_no_more():
    (said,) = uneven('["plain fine"]')
    apart = re.search(r"lines about (.+) in apart", said)[1]
    fill = f'[[fills]]\nregion = "A1"\nstyle = "parallel"\nspacing = "{apart} in"\n'
    assert uneven('["plain fine"]', lines=fill) == []


# ---- what a cure is said to take is what planning it takes ----

LAID = (
    'rows = ["squares plain squares"]\nsashing = { width = 2, fabric = "coral", around = true }\n'
)
RING = '[[layout.borders]]\nwidth = 5\nfabric = "sea"\n'
SPARSE = '[lines]\nditch = "blocks"\n'
NONE = '[lines]\nditch = "none"\ninclude = [["squares.r1c1", "squares.r1c2"]]\n'
HUNG = '[[fills]]\nregion = "A1"\nstyle = "parallel"\nspacing = 4\n'
WEAVE = "[blocks.fine]\nsize = 6\ngrid = [" + ", ".join(["'" + "sand sea " * 4 + "'"] * 8) + "]\n"
FREE = '[route]\norder = "free"\n'  # many lines: soon proven in any order
CURED = {
    "one plain block": ('rows = ["plain fine"]', FREE, "4 in"),
    "two alike": ('rows = ["plain squares plain"]', "", "4 in"),
    "ground that runs together": (LAID, NONE, "4 in"),
    "blocks and a border": (LAID + RING, SPARSE, "4 in"),
    "a seam in each": ('rows = ["squares squares"]', SPARSE, "4 in"),
    "seams in many": ('rows = ["squares*4", "squares*4"]', SPARSE, "5 in"),
    "a fill too open": ('rows = ["plain fine"]', HUNG + FREE, "2 in"),
    "on point": ('rows = ["plain plain"]\non_point = true\nsetting = "sea"', "", "4 in"),
    "seams in a few": ('rows = ["squares*3"]', SPARSE, "5 in"),
    "a frame": (LAID, '[machine]\nkind = "frame"\ndepth = "14 in"\n', "3 in"),
}


def takes(asked):
    plan = make_plan(asked, cures=False)
    return sum(u.total for u in plan.thread.uses) / 1000, sum(t.total for t in plan.times)


@pytest.mark.parametrize("name", CURED)
def test_a_cure_takes_the_thread_and_the_minutes_that_are_said_of_it(name):
    layout, rest, holds = CURED[name]
    text = SQUARES.replace('rows = ["squares"]', layout) + PLAIN + WEAVE
    asked = design(f'{text}{rest}[batting]\ndistance = "{holds}"\n')
    said = next(check for check in check_design(asked) if check.code == "loose-ground")
    metres, minutes, seconds = re.search(
        r"([\d.]+) m\) of thread and (?:([\d.]+) minutes|(\d+) seconds) more", said.message
    ).groups()
    remedy = remedies(survey(asked))[0]
    assert f"Cheapest cure: {remedy.words} (" in said.message
    cured = remedy.design
    (before, took), (after, takes_now) = takes(asked), takes(cured)
    assert float(metres) == pytest.approx(after - before, rel=0.05)
    told = float(minutes) * 60 if minutes else float(seconds)
    assert told == pytest.approx(takes_now - took, rel=0.05, abs=1)
    assert said.at not in [(place.x, place.y) for place in loose_of(cured, *lines_of(cured))]


@pytest.mark.parametrize(("blocks", "tried"), [(6, True), (7, False)])
def test_no_meander_is_drawn_over_wide_ground_to_find_a_cure(blocks, tried, monkeypatch):
    # 16 in by 46 in come to 29 squares of the 5 in that are allowed, 16 in by 52 in to 33
    text = SQUARES.replace('rows = ["squares"]', f'rows = ["plain*{blocks}"]\n' + RING) + PLAIN
    none = '[lines]\nditch = "none"\ninclude = [["border 1 top", "border 1 left"]]\n'
    found = survey(design(text + none + '[batting]\ndistance = "5 in"\n'))
    styles = set()
    real = type(found.filler).fill

    def fill(self, asked, *rest):
        styles.add(asked.style)
        return real(self, asked, *rest)

    monkeypatch.setattr(type(found.filler), "fill", fill)
    cheapest_cure(found, found.loose[0])
    area = found.faces[0].shape.area / found.limit**2
    assert (area <= 30) == tried
    assert ("meander" in styles) <= tried
    assert "parallel" in styles


SASHED = 'sashing = { width = 2, fabric = "sea", cornerstone = "coral" }\n'


def test_no_figure_is_said_of_a_cure_that_would_take_long_to_plan(monkeypatch):
    two = SQUARES.replace('rows = ["squares"]', 'rows = ["squares*2"]\nrepeat = 2\n' + SASHED)
    corners = (
        two + '[lines]\nditch = "feature"\nfeature = ["coral"]\n[batting]\ndistance = "5 in"\n'
    )
    assert "of thread and" in checks(corners)[0].message
    monkeypatch.setattr("stitchpath.plan._SOON", 4)
    (said,) = checks(corners)
    assert "Cheapest cure: fill it" in said.message
    assert "of thread" not in said.message
