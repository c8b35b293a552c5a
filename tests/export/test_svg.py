import re
from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from defusedxml.ElementTree import fromstring
from quilts import DESIGNS, SQUARES, planned
from shapely import LineString, Point, distance, hausdorff_distance, offset_curve, points
from svgelements import SVG, CubicBezier, Path
from svgelements import Line as Line_

from stitchpath.design.read import load_design
from stitchpath.export.low_side import offset_run
from stitchpath.export.svg.guide import plan_guide_svg
from stitchpath.export.svg.map import plan_map
from stitchpath.export.svg.path import plan_plotter_svg, plan_svg
from stitchpath.export.write import FORMATS
from stitchpath.lines.line import Line
from stitchpath.plan import make_plan
from stitchpath.route.runs import Leg, Run

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
    svg = read(plan_map(plan), tmp_path)
    ids = [e.id for e in svg.elements() if isinstance(e, Path)]
    assert ids[:2] == ["outline", "seams"]


def test_the_key_of_the_map_tells_threads_apart_in_a_copy_without_colour(plan):
    body, _, key = plan_map(plan).partition('<g id="key"')
    layers = r'stroke="(#\w{6})" stroke-linejoin="round">.*?<path id="run-\d+"([^>]*)>'
    samples = r'<path stroke="(#\w{6})"(.*?)/>'
    for how, part in ((layers, body), (samples, key)):
        found = {(at, "dash" in rest) for at, rest in re.findall(how, part, re.DOTALL)}
        assert {("#808080", False), ("#8b0000", True)} <= found
    assert all(f">{run.thread}</text>" in key for run in plan.runs)
    assert "not stitched" in key  # the edge of the piece


def test_on_the_low_side_map_ditch_stitching_lies_beside_the_seam_away_from_the_high_patch():
    plan = planned(SQUARES + "[prices]\n")
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


def ring_run(points, low):
    """A line stitched in one leg, with its low side."""
    line = Line("ditch", 1, "grey", points, "a seam", low=low)
    leg = Leg("stitch", points, 0)
    return Run(1, 1, "grey", "inside", "inside", (leg,)), (line,)


@pytest.mark.parametrize("low", [-1, 1])
@pytest.mark.parametrize("turn", [3, 40, 90, 117, 150])
def test_low_side_corners_are_those_of_an_offset_curve(turn, low):
    # Against shapely.offset_curve: a zigzag that turns both ways.
    headings = np.radians([0, turn, 0])
    steps = np.column_stack([np.cos(headings), np.sin(headings)]) * 30
    points = np.concatenate([[[0, 0]], np.cumsum(steps, axis=0)])
    moved = offset_run(*ring_run(points, low), 0.508)
    expected = offset_curve(LineString(points), low * 0.508, join_style="round", quad_segs=64)
    assert hausdorff_distance(LineString(moved), expected, densify=0.01) < 0.025


@pytest.mark.parametrize("name", ["harbour-runner", "curved-cushion"])
def test_no_stitch_on_the_low_side_strays_further_from_its_seam_than_she_asked(name):
    plan = make_plan(load_design(DESIGNS / f"{name}.toml"))
    for run in plan.runs:
        path = LineString(np.concatenate([leg.points for leg in run.legs]))
        moved = offset_run(run, plan.lines, 0.508)
        assert distance(points(moved), path).max() < 0.508 + 1e-6


def test_where_the_low_side_changes_the_path_crosses_at_the_corner():
    seam = np.array([[0.0, 0], [50, 0], [100, 17]])
    lines = tuple(
        Line("ditch", 1, "grey", seam[k : k + 2], "a seam", low=low)
        for k, low in enumerate((-1, 1))
    )
    legs = tuple(Leg("stitch", line.points, k) for k, line in enumerate(lines))
    moved = offset_run(Run(1, 1, "grey", "inside", "inside", legs), lines, 0.5)
    assert distance(points(moved), LineString(seam)).max() < 0.5 + 1e-6
    assert distance(points(moved[1:3]), Point(50, 0)) == pytest.approx([0.5, 0.5])


FRAME = WITH_RED.replace('rows = ["squares"]', 'rows = ["squares", "squares", "squares"]').replace(
    'fabric = "coral"\n', 'fabric = "coral"\non = "squares"\nfused = "before"\n'
)


def test_a_thread_that_comes_back_has_a_layer_with_a_name_of_its_own():
    plan = planned(FRAME + '[machine]\nkind = "frame"\ndepth = "9 in"\n')
    threads = [run.thread for run in plan.runs]
    assert threads.index("dark red") < len(threads) - 1 - threads[::-1].index("grey")
    drawings = (plan_svg, plan_plotter_svg, plan_guide_svg, plan_map)
    for text in (write(plan) for write in drawings):
        ids = re.findall(r'\bid="([^"]*)"', text)
        assert len(set(ids)) == len(ids)


def test_threads_whose_names_an_id_cannot_tell_apart_have_layers_of_their_own():
    plan = planned(FRAME)
    names = dict(zip(dict.fromkeys(run.thread for run in plan.runs), ("é", "ü"), strict=True))
    runs = tuple(replace(run, thread=names[run.thread]) for run in plan.runs)
    ids = re.findall(r'<g id="(stage-1-[^"]*)"', plan_svg(replace(plan, runs=runs)))
    assert len(set(ids)) == len(ids) == 2


def test_drawing_programs_find_layers_with_names(plan):
    mode, label = (f"{{http://www.inkscape.org/namespaces/inkscape}}{k}" for k in LAYER)
    for text in (plan_map(plan), plan_plotter_svg(plan)):
        groups = fromstring(text).iter("{http://www.w3.org/2000/svg}g")
        labels = [g.get(label) for g in groups if g.get(mode) == "layer"]
        assert {"grey", "dark red"} <= {word for each in labels for word in NAMES.findall(each)}
        assert len(set(labels)) == len(labels) >= 2


LAYER = "groupmode", "label"
NAMES = re.compile("grey|dark red")


@pytest.fixture(scope="module")
def curved():
    return make_plan(load_design(DESIGNS / "curved-cushion.toml"))


@pytest.mark.parametrize(
    "write",
    [
        plan_svg,
        plan_map,
        partial(plan_svg, mirrored=True),
        partial(plan_svg, low_side=0.5),
        plan_guide_svg,
    ],
)
def test_curved_seams_are_curves_in_every_drawing_of_the_path(curved, write, tmp_path):
    svg = read(write(curved), tmp_path)
    for path in (e for e in svg.elements() if isinstance(e, Path)):
        name = path.id or path.values.get("class")
        if name in ("outline", "arrows", None):
            continue
        curves = sum(isinstance(segment, CubicBezier) for segment in path)
        straight = sum(isinstance(segment, Line_) for segment in path)
        assert straight < 60 or curves > straight / 8, name
    assert write(curved).count("C") > 20


def test_a_mirrored_curve_is_the_mirror_image(curved, tmp_path):
    front, back = (
        [e for e in read(plan_svg(curved, mirrored=m), tmp_path).elements() if isinstance(e, Path)]
        for m in (False, True)
    )
    width = curved.top.width + 2 * curved.design.batting.margin
    for a, b in zip(front, back, strict=True):
        for t in (0.1, 0.37, 0.8):
            assert b.point(t).x == pytest.approx(width - a.point(t).x, abs=0.01)
            assert b.point(t).y == pytest.approx(a.point(t).y, abs=0.01)


def test_the_picture_to_draw_at_any_size_is_as_large_as_the_quilt(curved, tmp_path):
    text = FORMATS["picture-svg"][1](curved).decode()
    svg = read(text, tmp_path)
    inch16 = 16 * 25.4
    assert svg.width == pytest.approx(inch16, abs=0.01)
    high = svg.height  # with the key below
    assert inch16 < high < 1.2 * inch16
    width, height, across, down = map(
        float,
        re.search(
            r'width="([\d.]+)mm" height="([\d.]+)mm" viewBox="0 0 (\S+) (\S+)"', text
        ).groups(),
    )
    assert (width, height) == (across, down)  # a millimetre to the user unit
    fabrics = {fabric.colour for fabric in curved.top.fabrics.values()}
    paths = [e for e in svg.elements() if isinstance(e, Path) and e.fill and e.fill.hex in fabrics]
    boxes = np.array([e.bbox() for e in paths])
    assert boxes[:, :2].min(axis=0) == pytest.approx((0, 0), abs=1)
    assert boxes[:, 2:].max(axis=0) == pytest.approx((inch16, inch16), abs=1)
