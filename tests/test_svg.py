import numpy as np
import pytest
from quilts import SQUARES, planned
from shapely import Point
from svgelements import SVG, Path

from stitchpath.export.offset import offset_run
from stitchpath.export.svg import plan_svg

WITH_RED = SQUARES + (
    '[[applique]]\nname = "disc"\noutline = "M 0 0 L 4 0 L 4 1 L 0 1 Z"\nsize = 3\n'
    'fabric = "coral"\nthread = "dark red"\n[threads.grey]\n[threads."dark red"]\n'
)


@pytest.fixture(scope="module")
def plan():
    return planned(WITH_RED)


def read(text, tmp_path):
    """Read an SVG back with a library that had no part in writing it; 25.4 px to the inch: mm."""
    file = tmp_path / "path.svg"
    file.write_text(text)
    return SVG.parse(file, ppi=25.4)


def test_a_printed_path_is_true_to_size(plan, tmp_path):
    svg = read(plan_svg(plan), tmp_path)
    points = np.concatenate([leg.points for run in plan.runs for leg in run.legs])
    runs = [e for e in svg.elements() if isinstance(e, Path) and "run" in (e.id or "")]
    boxes = np.array([e.bbox() for e in runs])
    # The page begins a margin of 2 in before the top.
    low, high = points.min(axis=0) + 50.8, points.max(axis=0) + 50.8
    assert boxes[:, :2].min(axis=0) == pytest.approx(low, abs=0.01)
    assert boxes[:, 2:].max(axis=0) == pytest.approx(high, abs=0.01)


def test_each_run_is_one_path_in_stitching_order(plan, tmp_path):
    svg = read(plan_svg(plan), tmp_path)
    ids = [e.id for e in svg.elements() if isinstance(e, Path)]
    assert ids == [f"run-{run.number}" for run in plan.runs]
    assert "script" not in plan_svg(plan)
    assert "style" not in plan_svg(plan)


def test_lengths_of_the_paths_are_the_lengths_of_the_runs(plan, tmp_path):
    svg = read(plan_svg(plan), tmp_path)
    paths = [e for e in svg.elements() if isinstance(e, Path)]
    t = plan.totals
    total = t.stitched + t.retraced + t.travelled
    assert sum(p.length() for p in paths) == pytest.approx(total, rel=1e-4)


def test_the_map_has_the_seams_faint_underneath(plan, tmp_path):
    svg = read(plan_svg(plan, underlay=True), tmp_path)
    ids = [e.id for e in svg.elements() if isinstance(e, Path)]
    assert ids[:2] == ["outline", "seams"]


def test_on_the_low_side_map_ditch_stitching_lies_beside_the_seam_away_from_the_high_patch():
    plan = planned(SQUARES)
    (run,) = plan.runs
    moved = offset_run(run, plan.lines, 0.5)
    darker = [p.polygon for p in plan.top.patches if p.fabric == "sea"]
    steps = np.diff(moved, axis=0)
    long = np.hypot(steps[:, 0], steps[:, 1]) > 30
    middles = ((moved[1:] + moved[:-1]) / 2)[long]
    inside = [m for m in middles if 0 < m[0] < 152.4 and 0 < m[1] < 152.4]
    assert len(inside) == 4
    for x, y in inside:
        near = min(abs(x - 76.2), abs(y - 76.2))
        assert near == pytest.approx(0.5)
        assert not any(p.buffer(-0.1).contains_properly(Point(x, y)) for p in darker)


def test_without_offset_the_path_lies_on_the_seams(plan):
    run = plan.runs[0]
    moved = offset_run(run, plan.lines, 0.0)
    assert moved[0] == pytest.approx(run.legs[0].points[0])
    assert moved[-1] == pytest.approx(run.legs[-1].points[-1])
