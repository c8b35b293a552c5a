"""Lines of her own from a drawing: laid true, quilted once, read back as they were written."""

import pytest
import shapely
from drawn import path, svg
from quilts import SQUARES, planned

from stitchpath import StitchpathError
from stitchpath.design.read import design_from_text
from stitchpath.export.machine.dxf import plan_dxf
from stitchpath.export.svg.path import plan_svg
from stitchpath.plan import make_plan

WAVES = svg(
    "152.4mm",
    "0 0 152.4 152.4",
    path("M10 20C60 80 30 110 140 120", stroke="blue", id="wave"),
    path("M0 40H152.4M60 0V152.4", id="cross"),
)
PLAIN = SQUARES + '[lines]\nditch = "none"\n[prices]\n'


def lines_of(folder, text, more="", file="waves.svg"):
    (folder / file).write_text(text)
    text = PLAIN + f'[[drawn]]\nfile = "{file}"\n{more}'
    return make_plan(design_from_text(text, "x.toml", folder), time_limit=0, cures=False)


def union(plan):
    return shapely.union_all([shapely.LineString(line.points) for line in plan.lines])


def test_drawn_lines_are_cut_where_they_meet_routed_and_counted_as_all_others(tmp_path):
    plan = lines_of(tmp_path, WAVES)
    assert {line.kind for line in plan.lines} == {"drawn"}
    assert plan.totals.stitched == pytest.approx(union(plan).length, abs=0.01)
    assert union(plan).bounds == pytest.approx((0, 0, 152.4, 152.4), abs=0.01)


def test_a_line_can_be_chosen_by_its_id_laid_by_its_middle_and_sized(tmp_path):
    plan = lines_of(tmp_path, WAVES, 'id = "wave"\nat = [3, 3]\nsize = 2\n')
    left, top, right, bottom = union(plan).bounds
    assert (left + right, top + bottom) == pytest.approx((152.4, 152.4), abs=0.01)
    assert right - left == pytest.approx(50.8, abs=0.01)


def test_what_is_drawn_beside_the_top_is_cut_off_and_told(tmp_path):
    plan = lines_of(tmp_path, WAVES.replace("M0 40H152.4", "M-50 40H400"))
    assert union(plan).bounds[2] <= 152.41
    assert [check.code for check in plan.checks if check.code.startswith("drawn")] == [
        "drawn-beyond"
    ]


def test_lines_that_miss_the_top_are_refused(tmp_path):
    with pytest.raises(StitchpathError, match=r"drawn\[1\].file: .* lies on the top"):
        lines_of(tmp_path, WAVES, "at = [100, 100]\n")


def test_a_file_without_a_size_is_asked_about(tmp_path):
    with pytest.raises(StitchpathError, match="expected size or unit"):
        lines_of(tmp_path, WAVES.replace('width="152.4mm" height="152.4mm"', ""))
    bare = lines_of(
        tmp_path, WAVES.replace('width="152.4mm" height="152.4mm"', ""), 'unit = "mm"\n'
    )
    assert union(bare).bounds[2] == pytest.approx(152.4, abs=0.01)


@pytest.mark.parametrize(
    ("write", "file", "more", "near"),
    [
        (plan_svg, "path.svg", "", 0.021),  # curves are written to 0.02 mm
        (plan_dxf, "path.dxf", 'id = "path thread"\n', 0.002),
    ],
)
def test_a_path_that_was_written_is_read_back_as_the_same_lines(tmp_path, write, file, more, near):
    plan = lines_of(tmp_path, WAVES)
    again = lines_of(tmp_path, write(plan), more, file)
    assert len(again.lines) == len(plan.lines)
    assert shapely.hausdorff_distance(union(plan), union(again)) < near
    assert again.proof.cost == pytest.approx(plan.proof.cost, abs=0.05)


def test_ditches_and_drawn_lines_are_told_apart(tmp_path):
    (tmp_path / "waves.svg").write_text(WAVES)
    text = SQUARES + '[[drawn]]\nfile = "waves.svg"\nid = "wave"\n'
    plan = make_plan(design_from_text(text, "x.toml", tmp_path), time_limit=0, cures=False)
    ditches = sum(line.kind == "ditch" for line in plan.lines)
    assert ditches >= len(planned(SQUARES).lines)
    assert len(plan.lines) > ditches


@pytest.mark.parametrize(
    ("across", "told"), [(9_990, "cut off"), (10_010, "expected size or unit")]
)
def test_lines_wider_than_any_top_are_asked_about(tmp_path, across, told):
    text = WAVES.replace("M0 40H152.4", f"M0 40H{across}")
    if across > 10_000:
        with pytest.raises(StitchpathError, match=told):
            lines_of(tmp_path, text)
    else:
        assert any(told in check.message for check in lines_of(tmp_path, text).checks)


@pytest.mark.parametrize(("beside", "count"), [(0.08, 1), (0.12, 2)])
def test_lines_within_a_tenth_of_a_millimetre_are_one(tmp_path, beside, count):
    text = svg("150mm", "0 0 150 150", path("M90 40H140"), path(f"M90 {40 + beside}H140"))
    assert len(lines_of(tmp_path, text).lines) == count


@pytest.mark.parametrize(("inner", "count"), [(0.9, 1), (1.1, 2)])
def test_what_is_left_of_a_line_at_the_edge_is_a_line_from_a_millimetre_on(tmp_path, inner, count):
    text = svg("300mm", "0 0 300 300", path("M90 40H120"), path(f"M{152.4 - inner} 60H180"))
    plan = lines_of(tmp_path, text)
    assert len(plan.lines) == count


@pytest.mark.parametrize(("over", "cut"), [(0.008, 0), (0.012, 1)])
def test_a_line_a_hair_over_the_edge_is_not_cut(tmp_path, over, cut):
    text = svg("300mm", "0 0 300 300", path(f"M20 40H{152.4 + over}"))
    told = [check for check in lines_of(tmp_path, text).checks if check.code == "drawn-beyond"]
    assert len(told) == cut
