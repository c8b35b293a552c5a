"""Batting: what is loose is found and named, cured at the least cost, and uneven ground told of."""

import re

import numpy as np
import pytest
import shapely
from quilts import DESIGNS, SQUARES, design

from stitchpath.checks.batting import region_densities
from stitchpath.checks.cures import cheapest_cure, close_gaps, survey
from stitchpath.design.read import load_design
from stitchpath.errors import StitchpathError
from stitchpath.export.picture import draw_top
from stitchpath.plan import check_design, lines_of

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
    asked = design(SQUARES + '[batting]\ndistance = "8 in"\n')
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
    assert found.message.startswith("A2 is quilted ")
    assert "as densely as A1" in found.message
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
    plain = draw_top(found.top, found.lines, "svg")
    ringed = draw_top(found.top, found.lines, "svg", loose=found.loose)
    (rings,) = re.findall(rb'<path d="([^"]+)"[^>]*#c2185b', ringed)
    assert rings.count(b"M ") == 2
    assert b"#c2185b" not in plain


def test_the_cheapest_cure_of_a_block_is_told_with_thread_and_minutes():
    (found,) = checks(OPEN + '[batting]\ndistance = "5 1/2 in"\n')
    assert "Cheapest cure: " in found.message
    assert "m of thread" in found.message
    assert "minutes for all 2" in found.message


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
    assert all(each.startswith("added the seam of ") for each in said)
    top, lines = lines_of(closed)
    far = distances([line.points for line in lines], top.outline, 2.0)
    assert 2 * far.max() <= 4 * INCH + 1e-6


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


def test_uneven_neighbours_are_told_of_in_sound_sentences(monkeypatch):
    text = TWO.replace('rows = ["squares squares"]', 'rows = ["squares", "squares"]')
    text += 'sashing = { width = 1, fabric = "sand" }\n[batting]\nuneven = 1.01\n'
    found = [check.message for check in checks(text, "uneven-density")]
    assert found
    assert all(said[0].isupper() and " as The " not in said for said in found)
    monkeypatch.setattr("stitchpath.checks.batting._LISTED", len(found) - 1)
    assert checks(text, "uneven-density")[-1].message == (
        "1 more pair of neighbours differs 1.01 times or more in density."
    )
