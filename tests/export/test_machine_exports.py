"""Exports for machines, read back by programs that had no part in writing them."""

import csv
import io
import re
from dataclasses import replace
from itertools import pairwise

import ezdxf
import numpy as np
import pytest
import shapely
import svgpathtools
from ezdxf.addons.hpgl2.backend import Recorder
from ezdxf.addons.hpgl2.interpreter import Interpreter
from ezdxf.addons.hpgl2.plotter import Plotter
from ezdxf.addons.hpgl2.tokenizer import hpgl2_commands
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from pygcode import Line as Block
from pygcode import Machine
from quilts import DESIGNS, SQUARES, STARFISH, design, planned
from shapely import LineString, MultiLineString, Point
from svgelements import SVG, CubicBezier, Group, Path

from stitchpath.base.errors import StitchpathError
from stitchpath.base.marks import contrast
from stitchpath.checks.batting import loose_of
from stitchpath.design.read import load_design
from stitchpath.export.directions import plan_directions_text
from stitchpath.export.formats import ABOUT
from stitchpath.export.machine.dxf import plan_dxf
from stitchpath.export.machine.gcode import plan_gcode
from stitchpath.export.machine.hpgl import plan_hpgl
from stitchpath.export.machine.settings import pen_settings
from stitchpath.export.needle_points import plan_needle_csv
from stitchpath.export.picture import draw_top
from stitchpath.export.svg.guide import plan_guide_svg
from stitchpath.export.svg.path import plan_plotter_svg, plan_svg
from stitchpath.export.write import FORMATS, save_plan
from stitchpath.geometry import curves
from stitchpath.geometry.curves import as_curves
from stitchpath.geometry.simplify import simplified
from stitchpath.lines.threads import thread_colours
from stitchpath.plan import lines_of, make_plan
from stitchpath.told.directions import directions

NEAR = 0.05  # mm
TWO_THREADS = SQUARES + (
    '[[applique]]\nname = "buoy"\noutline = "M 0 0 L 9 0 C 9 3 4 4 0 3 Z"\nsize = 5\n'
    'fabric = "coral"\nthread = "dark red"\n[threads.grey]\n'
    '[threads."dark red"]\ncolour = "#8e3320"\n'
)


@pytest.fixture(scope="module")
def plan():
    return planned(TWO_THREADS)


@pytest.fixture(scope="module")
def curved():
    return make_plan(load_design(DESIGNS / "curved-cushion.toml"))


def paths_of(plan):
    """Path of each run, mm, y down."""
    return [np.concatenate([leg.points for leg in run.legs]) for run in plan.runs]


def assert_same_lines(found, expected):
    """One by one: same way round, same place, same length."""
    assert len(found) == len(expected)
    for a, b in zip(found, expected, strict=True):
        assert np.hypot(*(a[0] - b[0])) < NEAR
        assert np.hypot(*(a[-1] - b[-1])) < NEAR
        assert shapely.hausdorff_distance(LineString(a), LineString(b)) < NEAR
        assert LineString(a).length == pytest.approx(LineString(b).length, rel=2e-3, abs=0.2)


def assert_same_ground(found, expected):
    """All together: same place, same length."""
    a, b = MultiLineString(list(found)), MultiLineString(list(expected))
    assert shapely.hausdorff_distance(a, b) < NEAR
    assert a.length == pytest.approx(b.length, rel=2e-3)


def pen_on(machine):
    return machine.pos.values["Z"] <= 0


def spindle_on(machine):
    return str(machine.mode.spindle).startswith("M03")


def interpret(text, is_down=pen_on):
    """Run a G-code program; for each tile the place it names on the quilt and its lines, mm."""
    machine = Machine()
    machine.process_block(Block("G0 Z1").block)  # the pen begins up
    tiles = [((0.0, 0.0), [])]
    line = None
    for row in text.splitlines():
        block = Block(row).block
        machine.process_block(block)
        said = re.match(r"\(([\d.]+) mm (right|left) of, ([\d.]+) mm (below|above)", row)
        if said:
            x, across, y, down = said.groups()
            tiles.append(((float(x) * SIGN[across], float(y) * SIGN[down]), []))
        scale = 25.4 if str(machine.mode.units) == "G20" else 1.0
        at = np.array([machine.pos.values["X"], machine.pos.values["Y"]]) * scale
        if not is_down(machine):
            line = None
        elif line is None:
            line = [at]
            tiles[-1][1].append(line)
        elif np.any(at != line[-1]):
            line.append(at)
    return [(corner, [np.array(line) for line in lines]) for corner, lines in tiles if lines]


SIGN = {"right": 1, "left": -1, "below": 1, "above": -1}


def plot(text):
    """Run HP-GL/2 on a virtual plotter; for each plot the place it names, pens and lines, mm."""
    plots = []
    for page in text.split("PG;")[:-1]:
        recorder = Recorder()
        Interpreter(Plotter(recorder)).run(hpgl2_commands(page.strip().encode("ascii")))
        lines = []
        for _, drawn, data in recorder.player().recordings():
            points = np.array([(p.x, p.y) for p in data.vertices()]) / 40
            if lines and lines[-1][0] == drawn.pen_index and np.all(lines[-1][1][-1] == points[0]):
                lines[-1] = drawn.pen_index, np.concatenate([lines[-1][1], points[1:]])
            else:
                lines.append((drawn.pen_index, points))
        said = re.search(r"quilt at ([-\d.]+) mm right, ([-\d.]+) mm down", page)
        plots.append((tuple(map(float, said.groups())) if said else None, lines))
    return plots


def corner_of(plan, origin, lines):
    """Where a corner of all that is drawn, top and all, lies in the plan."""
    points = np.vstack([*lines, plan.top.outline.exterior.coords])
    (left, top), (right, bottom) = points.min(axis=0), points.max(axis=0)
    return np.array([left if "left" in origin else right, top if "top" in origin else bottom])


def on_quilt(line, corner):
    """Bring a line with y up from a corner to the plan, y down."""
    return line * (1, -1) + np.array(corner)


units = st.sampled_from(["mm", "in"])
origins = st.sampled_from(["bottom left", "bottom right", "top left", "top right"])
pens = st.sampled_from([None, ("M5", "M3 S1000"), ("G0 Z1.5", "G1 Z-0.5 F200")])
beds = st.tuples(st.floats(60, 300), st.floats(60, 300))


@given(unit=units, origin=origins, pen=pens, first=st.booleans())
@settings(max_examples=12, deadline=None)
def test_gcode_draws_the_same_lines_whatever_unit_corner_and_pen(plan, unit, origin, pen, first):
    text = plan_gcode(plan, unit=unit, origin=origin, pen=pen, first_pass_up=first)
    ((_, lines),) = interpret(text, spindle_on if pen and pen[0] == "M5" else pen_on)
    expected = paths_of(plan)
    corner = corner_of(plan, origin, expected)
    assert_same_lines([on_quilt(line, corner) for line in lines], expected)


@given(unit=units, origin=origins, bed=beds)
@settings(max_examples=8, deadline=None)
def test_gcode_for_a_small_bed_keeps_within_it_and_leaves_nothing_out(plan, unit, origin, bed):
    text = plan_gcode(plan, unit=unit, origin=origin, bed=bed, first_pass_up=False)
    found = []
    for corner, lines in interpret(text):
        away = np.abs(np.vstack(lines)).max(axis=0)
        assert np.all(away <= np.array(bed) + 0.01)
        base = corner if "tile" in text else corner_of(plan, origin, paths_of(plan))
        found += [on_quilt(line, base) for line in lines]
    assert_same_ground(found, paths_of(plan))


@given(bed=st.none() | beds, first=st.booleans())
@settings(max_examples=12, deadline=None)
def test_hpgl_draws_the_same_lines_a_pen_for_each_thread(plan, bed, first):
    plots = plot(plan_hpgl(plan, bed=bed, first_pass_up=first))
    base = corner_of(plan, "bottom left", paths_of(plan))
    lines = [
        (pen, on_quilt(line, base if at is None else at)) for at, p in plots for pen, line in p
    ]
    if len(plots) == 1:
        assert_same_lines([line for _, line in lines], paths_of(plan))
    threads = list(dict.fromkeys(run.thread for run in plan.runs))
    for number, thread in enumerate(threads, 1):
        mine = [p for p, run in zip(paths_of(plan), plan.runs, strict=True) if run.thread == thread]
        assert_same_ground([line for pen, line in lines if pen == number], mine)
    for _, page in plots:
        points = np.vstack([line for _, line in page])
        assert points.min() >= -0.02
        assert bed is None or np.all(points.max(axis=0) <= np.array(bed) + 0.02)


def test_curves_come_back_to_five_hundredths_of_a_millimetre(curved):
    expected = paths_of(curved)
    corner = corner_of(curved, "bottom left", expected)
    ((_, lines),) = interpret(plan_gcode(curved, first_pass_up=False))
    assert_same_lines([on_quilt(line, corner) for line in lines], expected)
    ((_, drawn),) = plot(plan_hpgl(curved))
    assert_same_lines([on_quilt(line, corner) for _, line in drawn], expected)


def test_the_first_pass_goes_all_the_way_with_the_pen_up_and_then_stops(plan):
    program = plan_gcode(plan).splitlines()
    stop = program.index("M0")
    assert interpret("\n".join(program[:stop])) == []
    first = [row for row in program[:stop] if "X" in row and row.startswith("G")]
    second = [row for row in program[stop:] if "X" in row and row.startswith("G")]
    assert first == second
    page = plan_hpgl(plan)
    assert page.index("PD") > page.index("SP1") > page.rindex("SP0", 0, page.index("PD"))
    ups = page[page.index("SP0") : page.index("SP1")]
    assert "PD" not in ups
    assert ups.count("PU") >= 2 * len(plan.runs)


@pytest.mark.parametrize(("first", "said"), [(True, "FIRST PASS IS PEN UP"), (False, "NO PASS")])
def test_the_top_of_a_program_says_how_to_make_the_first_run(plan, first, said):
    gcode = plan_gcode(plan, first_pass_up=first).splitlines()
    assert said in gcode[1]
    assert any("manual" in row for row in gcode[:6])
    hpgl = plan_hpgl(plan, first_pass_up=first)
    assert said in hpgl[: hpgl.index("SP")]
    assert "manual" in hpgl[: hpgl.index("SP")]


def test_a_program_holds_words_of_the_standard_and_nothing_else(plan):
    # ISO 6983-1: letter and number; G0 and G1 moves, G20, G21 unit, G90 absolute, G94 feed per
    # minute, F feed, M0 stop, M2 end; comments in parentheses.
    text = plan_gcode(plan, bed=(100, 100))
    assert text.isascii()
    for row in text.splitlines():
        assert len(row) <= 100
        if row.startswith("("):
            assert re.fullmatch(r"\([^();]*\)", row)
        else:
            assert re.fullmatch(r"(G(0|1|21|90|94)|M[02]|[XYZ]-?\d+(\.\d+)?|F\d+(\.\d+)?| )+", row)
    assert text.splitlines()[-1] == "M2"


def test_the_pen_comes_down_only_where_a_rapid_move_has_brought_it(plan):
    program = plan_gcode(plan, bed=(100, 100)).splitlines()
    downs = [k for k, row in enumerate(program) if row == "G1 Z0"]
    assert len(downs) >= len(plan.runs)
    for k in downs:
        assert program[k - 1].startswith("G0 X")
        lifted = program.index("G0 Z5", k)
        assert all(row.startswith("G1 X") for row in program[k + 1 : lifted])


def test_the_pen_is_changed_at_a_stop_and_only_when_the_thread_changes(plan):
    program = plan_gcode(plan, first_pass_up=False).splitlines()
    stops = [program[k - 1] for k, row in enumerate(program) if row == "M0"]
    assert stops == ["(pen 2: dark red)"]


def test_the_feed_is_given_per_minute_in_the_programs_own_unit(plan):
    assert "G21\nG90\nG94\nF1270.0\n" in plan_gcode(plan, feed=1270)
    assert "G20\nG90\nG94\nF50.00\n" in plan_gcode(plan, feed=1270, unit="in")


@pytest.mark.parametrize(
    "options",
    [
        {"pen": ("G0 Z5", "G20")},
        {"pen": ("G0 Z5", "G1 X3 Z0")},
        {"pen": ("G0 Z5", "M30")},
        {"pen": ("G0 Z5", "M02")},
        {"pen": ("G0 Z5\nG1 X0", "G1 Z0")},
        {"pen": ("G0 Z5", "(down)")},
        {"pen": ("G0 Z5", "")},
        {"pen": ("M5", "M5")},
        {"feed": 0},
        {"feed": float("nan")},
        {"unit": "cm"},
        {"origin": "middle"},
        {"bed": (0, 300)},
        {"bed": (float("nan"), 300)},
    ],
)
def test_settings_that_no_machine_can_follow_are_refused_in_one_sentence(plan, options):
    with pytest.raises(StitchpathError, match=r"^(pen|feed|unit|origin|bed): found .*expected"):
        plan_gcode(plan, **options)


def test_she_sets_up_her_pen_machine_from_the_command_line(run, tmp_path):
    design = tmp_path / "squares.toml"
    design.write_text(SQUARES)
    told = ["bed=10x20cm", "feed=40 in", "unit=in", "up=M5", "down=M3 S1000", "first_pass=none"]
    pens = [word for each in told for word in ("--pen", each)]
    assert run("plan", design, "-o", tmp_path, "--format", "gcode,hpgl", *pens)[0] == 0
    gcode, hpgl = ((tmp_path / f"squares.{end}").read_text() for end in ("gcode", "hpgl"))
    assert "G20\nG90\nG94\nF40.00\nM5\n" in gcode
    assert "M3 S1000\nG1 " in gcode
    assert "THERE IS NO PASS WITH THE PEN UP" in gcode
    assert "THERE IS NO PASS WITH THE PEN UP" in hpgl
    for text in (gcode, hpgl):
        assert "tile 2 of 2" in text  # 6 in and its margins are more than 10 cm


@pytest.mark.parametrize(
    ("told", "said"),
    [
        ("bde=60x90cm", r"^pen: .*'bde'.* 'bed'"),
        ("bed=60", r"^pen bed: found '60', expected a width and a height"),
        ("feed=1500", r"^pen feed: found '1500', expected its unit as well"),
        ("first_pass=maybe", r"^pen first_pass: found 'maybe', expected \"up\" or \"none\""),
        ("up=M5", r"^pen: found one of up and down"),
    ],
)
def test_a_setting_of_the_pen_that_cannot_be_read_is_named(told, said):
    with pytest.raises(StitchpathError, match=said):
        pen_settings([told], "in")


def test_every_setting_of_the_pen_is_one_that_the_exports_know(plan):
    told = ["bed=60x90cm", "feed=90cm", "unit=mm", "origin=top left", "up=M5", "down=M3"]
    told += ["first_pass=up", "simplify=0", "low_side=0.5mm"]
    for name, options in pen_settings(told, "in").items():
        assert FORMATS[name][1](plan, **options)


def test_a_bed_that_would_take_too_many_tiles_is_refused(plan):
    huge = replace(plan, top=replace(plan.top, outline=shapely.box(0, 0, 5000, 5000)))
    with pytest.raises(StitchpathError, match=r"^bed: .*tiles.*expected 1000 at most"):
        plan_hpgl(huge, bed=(20, 20))


def test_names_cannot_break_out_of_a_comment(plan):
    named = replace(plan, top=replace(plan.top, name='Quay) G0 X0 (";IN;\nM2 é'))
    assert "(Quay] G0 X0 ['.IN.?M2 e: the" in plan_gcode(named)
    assert "\"Quay] G0 X0 ['.IN.?M2 e, tile" in plan_hpgl(named)
    ((_, lines),) = interpret(plan_gcode(named))
    assert len(lines) == len(plan.runs)


def dxf_of(plan):
    """Read a DXF with the library's own auditor; by layer, the polylines on it."""
    drawing = ezdxf.read(io.StringIO(plan_dxf(plan)))
    audit = drawing.audit()
    assert (audit.errors, audit.fixes) == ([], [])
    layers = {}
    for polyline in drawing.modelspace():
        assert polyline.dxftype() == "LWPOLYLINE"
        layers.setdefault(polyline.dxf.layer, []).append(polyline)
    return drawing, layers


def test_in_a_dxf_each_run_is_one_chain_that_knows_its_number_stage_and_thread(plan):
    drawing, _ = dxf_of(plan)
    assert drawing.header["$INSUNITS"] == 4  # mm, by the DXF reference
    chains = [p for p in drawing.modelspace() if p.dxf.layer.startswith("path ")]
    assert {p.dxf.layer for p in chains} == {f"path {run.thread}" for run in plan.runs}
    drawn = [on_quilt(np.array(p.get_points("xy")), (0, plan.top.height)) for p in chains]
    assert_same_lines(drawn, paths_of(plan))  # the lower left corner of the top is the origin
    for chain, run in zip(chains, plan.runs, strict=True):
        told = [tag.value for tag in chain.get_xdata("STITCHPATH")]
        names, values = told[::2], told[1::2]
        found = dict(zip(names, values, strict=True))
        assert (found["run"], found["stage"], found["thread"]) == (
            run.number,
            run.stage,
            run.thread,
        )
        length = found["stitch mm"] + found["retrace mm"] + found["travel mm"]
        assert length == pytest.approx(LineString(chain.get_points("xy")).length, abs=0.05)
    assert "STITCHPATH" in drawing.appids


def test_a_dxf_shows_edge_seams_and_pieces_and_how_far_it_all_reaches(plan):
    drawing, layers = dxf_of(plan)
    (edge,) = layers["edge"]
    assert edge.closed
    ring = shapely.Polygon(edge.get_points("xy"))
    assert ring.bounds == pytest.approx((0, 0, plan.top.width, plan.top.height))
    seams = [on_quilt(np.array(p.get_points("xy")), (0, plan.top.height)) for p in layers["seams"]]
    assert_same_lines(seams, [seam.points for seam in plan.top.seams])
    assert len(layers["pieces"]) == len(plan.top.pieces) == 1
    points = np.concatenate([list(p.get_points("xy")) for p in drawing.modelspace()])
    for name, corner in (("$EXTMIN", points.min(axis=0)), ("$EXTMAX", points.max(axis=0))):
        assert tuple(drawing.header[name])[:2] == pytest.approx(tuple(corner))


def test_a_dxf_that_begins_at_its_origin_tells_its_extents_too():
    # With no margin the path keeps to the top, whose corner is the origin.
    drawing, _ = dxf_of(planned(SQUARES + "[batting]\nmargin = 0\n"))
    assert tuple(drawing.header["$EXTMIN"]) == (0, 0, 0)
    assert tuple(drawing.header["$EXTMAX"]) == pytest.approx((152.4, 152.4, 0))


def test_dxf_layers_keep_apart_threads_whose_names_a_drawing_could_not(plan):
    threads = {"Red/1": "RED_1", "grey": "red?1"}  # alike but for what DXF cannot write or tell
    names = dict(zip(dict.fromkeys(run.thread for run in plan.runs), threads.values(), strict=True))
    runs = tuple(replace(run, thread=names[run.thread]) for run in plan.runs)
    _, layers = dxf_of(replace(plan, runs=runs))
    assert len({name.lower() for name in layers if name.startswith("path")}) == 2


@pytest.mark.parametrize(
    "make", [plan_dxf, plan_gcode, plan_hpgl, plan_needle_csv, plan_plotter_svg]
)
def test_the_same_plan_gives_the_same_bytes(plan, make):
    assert make(plan) == make(plan)


def drawn(text, tmp_path):
    """Read an SVG with a library that had no part in writing it; 25.4 px to the inch: mm."""
    file = tmp_path / "path.svg"
    file.write_text(text)
    return SVG.parse(file, ppi=25.4)


def flat(path, plan):
    """Points along a path of an SVG, brought from its page to the plan."""
    points = [path[1].start]
    for segment in list(path)[1:]:
        curve = isinstance(segment, CubicBezier)
        points += [segment.point(t) for t in (np.linspace(0, 1, 20)[1:] if curve else [1.0])]
    return np.array([(p.x, p.y) for p in points]) - plan.design.batting.margin


def test_the_plotters_svg_draws_curves_as_curves_in_stitching_order(curved, tmp_path):
    svg = drawn(plan_plotter_svg(curved), tmp_path)
    paths = [e for e in svg.elements() if isinstance(e, Path)]
    assert [p.id for p in paths] == [f"run-{run.number}" for run in curved.runs]
    assert_same_lines([flat(p, curved) for p in paths], paths_of(curved))
    pieces = [segment for path in paths for segment in path]
    assert sum(isinstance(piece, CubicBezier) for piece in pieces) > 20
    assert len(pieces) < sum(map(len, paths_of(curved))) / 5
    plain = drawn(plan_plotter_svg(curved, curves=False), tmp_path)
    straight = [e for e in plain.elements() if isinstance(e, Path)]
    assert not any(isinstance(segment, CubicBezier) for path in straight for segment in path)
    assert_same_lines([flat(p, curved) for p in straight], paths_of(curved))


def test_whoever_opens_the_plotters_svg_is_told_to_run_it_dry_first(plan):
    text = plan_plotter_svg(plan)
    assert "first run with the pen up" in text
    assert "manual" in text
    assert set(re.findall(r"<(\w+)", text)) == {"svg", "title", "desc", "g", "path"}  # to draw


def test_the_plotters_svg_has_a_layer_for_each_thread(plan, tmp_path):
    svg = drawn(plan_plotter_svg(plan), tmp_path)
    groups = [
        e for e in svg.elements() if isinstance(e, Group) and (e.id or "").startswith("layer")
    ]
    assert [g.id for g in groups] == ["layer-1-grey", "layer-2-dark-red"]
    for group, thread in zip(groups, ("grey", "dark red"), strict=True):
        ids = [e.id for e in group if isinstance(e, Path)]
        assert ids == [f"run-{run.number}" for run in plan.runs if run.thread == thread]


def test_a_straight_line_stays_straight_for_the_plotter(tmp_path):
    (path,) = [
        e
        for e in drawn(plan_plotter_svg(planned(SQUARES)), tmp_path).elements()
        if isinstance(e, Path)
    ]
    assert not any(isinstance(segment, CubicBezier) for segment in path)


def test_mirrored_the_path_fits_the_back_of_the_quilt(plan, tmp_path):
    svg = drawn(plan_svg(plan, mirrored=True), tmp_path)
    paths = [e for e in svg.elements() if isinstance(e, Path)]
    turned = [flat(p, plan) * (-1, 1) + (plan.top.width, 0) for p in paths]
    assert_same_lines(turned, paths_of(plan))
    assert "back" in plan_svg(plan, mirrored=True)


def test_the_guide_shows_every_leg_and_numbers_where_runs_begin_and_end(curved, tmp_path):
    svg = drawn(plan_guide_svg(curved), tmp_path)
    by_class = {}
    for path in (e for e in svg.elements() if isinstance(e, Path)):
        name = path.values.get("class")
        by_class[name] = by_class.get(name, 0.0) + path.length()
    totals = curved.totals
    assert by_class["stitch"] == pytest.approx(totals.stitched, rel=1e-3)
    assert by_class["retrace"] == pytest.approx(totals.retraced, rel=0.05)  # beside the line
    assert by_class["travel"] == pytest.approx(totals.travelled, rel=1e-3)
    text = plan_guide_svg(curved).partition('id="key"')[0]
    for run in curved.runs:
        closed = bool(np.all(run.legs[0].points[0] == run.legs[-1].points[-1]))
        assert text.count(f">{run.number}</text>") == (1 if closed else 2)
    assert "manual" in plan_guide_svg(curved)


# Two coral patches far apart, and ends so dear that the thread goes from one to the other.
APART = (
    SQUARES.replace(
        "'sand sea', 'sea sand'",
        "'coral sand sea sand', 'sea sand sand sand', 'sand sea sand coral'",
    ).replace("size = 6", "size = 8")
    + '[lines]\nditch = "feature"\nfeature = ["coral"]\n[threads.navy]\n'
    "[prices]\nend_margin = 900\nend_inside = 900\ntravel_margin = 9\n"
)


@pytest.mark.parametrize("text", [SQUARES, STARFISH, APART, f"{SQUARES}[threads.white]\n"])
def test_the_key_of_the_guide_explains_what_is_drawn_and_nothing_else(text):
    plan = planned(text, time_limit=0)
    body, _, key = plan_guide_svg(plan).partition('<g id="key"')
    mark = r'<path d="([^"]+)" fill="(#\w+)" stroke="#1b2430"'
    above, below = (
        {(data.count(" "), fill) for data, fill in re.findall(mark, part)} for part in (body, key)
    )
    assert above == below
    does = {leg.do for run in plan.runs for leg in run.legs}
    words = {"stitch": "stitched with", "retrace": "stitched again", "travel": "travel:"}
    assert {do for do, said in words.items() if said in key} == does
    for thread in {run.thread for run in plan.runs}:
        assert f">{thread}</text>" in key
    stitched = shapely.union_all([LineString(line.points) for line in plan.lines]).buffer(0.01)
    seams = shapely.union_all([LineString(seam.points) for seam in plan.top.seams])
    bare = seams.difference(stitched).length > 1 or plan.top.pieces
    assert ("not stitched" in key) == bool(bare)


def test_white_thread_is_seen_on_white_paper():
    plan = planned(f"{SQUARES}[threads.white]\n", time_limit=0)
    cased = plan_guide_svg(plan)
    assert cased.index('class="casing" fill="none" stroke="#6b7178"') < cased.index("#ffffff")
    for alone in (plan_svg(plan), plan_plotter_svg(plan)):  # a casing would be drawn by a pen
        assert "#ffffff" not in alone
        (stroke,) = set(re.findall(r'stroke="(#\w+)"', alone))
        assert contrast(stroke, "#ffffff") >= 3


ECHOES = STARFISH.replace(
    "size = 7", "size = 4\nedge_line = true\necho = { step = '1/4 in', count = 4 }"
)


def test_marks_of_nested_echoes_do_not_cover_each_other(tmp_path):
    plan = planned(ECHOES, time_limit=0)
    text = plan_guide_svg(plan).partition('<g id="key"')[0] + "</svg>"
    half = max(plan.top.width, plan.top.height) / 90  # letters are so high
    number = r'x="([\d.-]+)" y="([\d.-]+)" fill="#?\w+">\d+</text>'
    marks = shapely.points([(float(x), float(y)) for x, y in re.findall(number, text)])
    assert len(marks) > 4
    apart = shapely.distance(marks[:, None], marks[None])
    assert apart[~np.eye(len(marks), dtype=bool)].min() > 1.7 * half
    heads = [
        shapely.centroid(shapely.Polygon(np.array(flat(part, plan))))
        for path in drawn(text, tmp_path).elements()
        if isinstance(path, Path) and path.values.get("class") == "arrows"
        for part in map(Path, path.as_subpaths())
    ]
    assert len(heads) > 10
    near = shapely.distance(np.array(heads)[:, None], np.array(heads)[None])
    assert near[~np.eye(len(heads), dtype=bool)].min() > 0.7 * half


paths = st.lists(st.tuples(st.integers(0, 40), st.integers(0, 40)), min_size=2, max_size=40).filter(
    lambda p: all(a != b for a, b in pairwise(p))
)


@given(points=paths, tolerance=st.sampled_from([0.02, 0.5]))
@settings(max_examples=25, deadline=None)
def test_a_path_that_turns_back_on_itself_keeps_its_length_when_simplified(points, tolerance):
    path = np.array(points, dtype=float)
    found = simplified(path, tolerance)
    assert shapely.hausdorff_distance(LineString(found), LineString(path)) <= tolerance
    assert LineString(found).length == pytest.approx(LineString(path).length, abs=tolerance * 40)
    assert found[[0, -1]].tolist() == path[[0, -1]].tolist()
    pieces = list(as_curves(path, tolerance))
    assert all(np.all(a[-1] == b[0]) for a, b in pairwise(pieces))


def wander(points, seed):
    """A long smooth path, as of a meander, drawn with short straight pieces."""
    noise = np.random.default_rng(seed).normal(size=points // 8)
    turn = np.interp(np.arange(points), np.arange(len(noise)) * 8, noise) * 0.12
    way = np.cumsum(turn)
    return np.round(np.cumsum(np.column_stack([np.cos(way), np.sin(way)]) * 0.6, axis=0), 3)


def bezier_points(piece):
    """Points along a straight piece or, by another library, along a curve."""
    if len(piece) == 2:
        return piece
    at = svgpathtools.CubicBezier(*[complex(*p) for p in piece]).poly()(np.linspace(0, 1, 60))
    return np.column_stack([at.real, at.imag])


@given(seed=st.integers(0, 10**6), jolt=st.booleans())
@settings(max_examples=6, deadline=None)
def test_a_long_meander_becomes_curves_that_keep_to_it(seed, jolt):
    path = wander(1200, seed)
    if jolt:  # one place where no smooth curve can follow: the rest is drawn with curves still
        path[600:] += (0.17, 0.17)
    pieces = list(as_curves(path, 0.02))
    assert all(np.all(a[-1] == b[0]) for a, b in pairwise(pieces))
    drawn = LineString(np.concatenate([bezier_points(piece) for piece in pieces]))
    assert shapely.distance(shapely.points(path), drawn).max() <= 0.0201
    assert shapely.hausdorff_distance(drawn, LineString(path)) <= NEAR
    assert sum(len(piece) == 4 for piece in pieces) > 0.9 * len(pieces)
    assert len(pieces) < len(simplified(path, 0.02)) * 0.75


def test_a_meander_twice_as_long_asks_for_twice_the_work(monkeypatch):
    asked = []

    def count(x, *args, **options):
        asked.append(len(x))
        return fit(x, *args, **options)

    fit = curves.fitted
    monkeypatch.setattr(curves, "fitted", count)
    work = {}
    for points in (1000, 4000):
        asked.clear()
        assert sum(len(piece) == 4 for piece in as_curves(wander(points, 1), 0.02)) > 100
        work[points] = sum(asked)
    assert 0 < work[4000] < 6 * work[1000]


@pytest.mark.parametrize("radius", [3.0, 20.0, 300.0])
def test_a_flattened_circle_becomes_a_few_curves_again(radius):
    step = 2 * np.arccos(1 - 0.02 / radius)
    angle = np.linspace(0, 2 * np.pi, int(np.ceil(2 * np.pi / step)) + 1)
    path = np.round(radius * np.column_stack([np.cos(angle), np.sin(angle)]), 3)
    pieces = list(as_curves(path, 0.02))
    assert all(len(piece) == 4 for piece in pieces)
    assert len(pieces) < len(angle) / 2
    for piece in pieces:
        curve = CubicBezier(*[complex(*p) for p in piece])
        away = [abs(complex(*curve.point(t))) - radius for t in np.linspace(0, 1, 15)]
        assert np.abs(away).max() < NEAR


def test_the_table_of_needle_points_has_a_row_for_every_stitch_and_one_for_each_start(curved):
    text = plan_needle_csv(curved)
    assert text.count("\r\n") == text.count("\n")  # RFC 4180
    rows = list(csv.DictReader(io.StringIO(text)))
    for run, thread in zip(curved.runs, curved.thread.runs, strict=True):
        mine = [row for row in rows if row["run"] == str(run.number)]
        assert [int(row["stitch"]) for row in mine] == list(range(thread.stitches + 1))
        points = np.array([(float(row["x_mm"]), float(row["y_mm"])) for row in mine])
        assert np.hypot(*np.diff(points, axis=0).T).max() <= 2.54 + 0.0015  # rounded to 1 µm
        by_leg = {row["line"]: row["kind"] for row in mine if row["do"] != "travel"}
        assert all(curved.lines[int(name[1:]) - 1].kind == kind for name, kind in by_leg.items())
        path = LineString(np.concatenate([leg.points for leg in run.legs]))
        assert max(path.distance(Point(p)) for p in points) < 0.001


def test_a_name_with_a_comma_stays_in_its_column(plan):
    runs = tuple(replace(run, thread='grey, "sea"') for run in plan.runs)
    rows = list(csv.DictReader(io.StringIO(plan_needle_csv(replace(plan, runs=runs)))))
    assert {row["thread"] for row in rows} == {'grey, "sea"'}
    assert None not in rows[0]


def test_the_directions_are_all_in_the_text(plan):
    text = plan_directions_text(plan)
    assert "manual" in text
    for run in directions(plan):
        assert run.heading in text
        assert all(step.text in text for step in run.steps)


def test_the_picture_for_a_booklet_is_sharp_enough_to_print(plan):
    picture = Image.open(io.BytesIO(FORMATS["picture"][1](plan)))
    assert picture.width == 2700  # 9 in; the key is below
    assert picture.info["dpi"] == pytest.approx((300, 300), abs=0.1)


def test_a_reader_of_the_booklet_sees_the_quilt_and_no_rings_of_the_check():
    loose = planned(SQUARES + '[batting]\ndistance = "1 in"\n')
    assert loose_of(loose.design, loose.top, loose.lines)
    assert b"#c2185b" not in FORMATS["picture-svg"][1](loose)


def test_the_booklet_shows_the_waves_through_the_life_ring(curved):
    picture = Image.open(io.BytesIO(FORMATS["picture"][1](curved))).convert("RGB")
    middle = curved.top.pieces[0].shape.centroid
    scale = picture.width * 0.98 / curved.top.width
    at = [round(v * scale + picture.width * 0.01) + 12 for v in (middle.x, middle.y)]
    fabrics = {f.colour: name for name, f in curved.top.fabrics.items()}
    assert fabrics["#{:02x}{:02x}{:02x}".format(*picture.getpixel(at))] == "sea"


def test_the_booklet_shows_travel_that_will_be_seen():
    plan = planned(APART)
    along = {leg.along for run in plan.runs for leg in run.legs if leg.do == "travel"}
    assert along == {"seam"}
    picture = FORMATS["picture-svg"][1](plan)
    assert b"travel" in picture
    hidden = tuple(
        replace(run, legs=tuple(replace(leg, along=leg.along and "margin") for leg in run.legs))
        for run in plan.runs
    )
    cut_off = FORMATS["picture-svg"][1](replace(plan, runs=hidden))
    assert b"travel" not in cut_off
    dashes = [made.count(b"stroke-dasharray") for made in (picture, cut_off)]
    assert dashes[0] - dashes[1] == 2  # the way, and the key to it


def test_stitching_on_dark_fabric_is_seen_in_every_picture():
    dark = APART.replace("#e7d5b0", "#101a2b").replace("#2f6f9f", "#1c2f4f")
    dark = design(dark.replace("#dc6f50", "#2b3b45"))
    top, lines = lines_of(dark)
    for made in (
        draw_top(top, lines, "svg", thread_colours(dark)),
        FORMATS["picture-svg"][1](planned(APART.replace("#e7d5b0", "#000040"))),
    ):
        drawn = re.findall(rb"stroke: (#\w{6})(?:; stroke-width: ([\d.]+))?", made)
        (casing, wide), (line, thin) = (
            next(
                (k, float(width or 1))
                for k, (colour, width) in enumerate(drawn)
                if colour == sought
            )
            for sought in (b"#ffffff", b"#000080")
        )
        assert casing < line  # it lies beneath
        assert wide > 1.8 * thin


def test_the_picture_of_a_large_top_is_a_few_paths_so_that_it_opens_at_once(curved):
    many = planned(SQUARES.replace("'sand sea', ", "'sand sea', " * 9))
    assert len(many.top.patches) == 20
    for made in (many, curved):
        assert FORMATS["picture-svg"][1](made).count(b"<path ") < 40


def test_all_formats_come_in_one_folder_with_an_index_that_names_each(plan, tmp_path):
    written = save_plan(plan, tmp_path, tuple(FORMATS))
    names = {path.name for path in tmp_path.iterdir()}
    assert names == {path.name for path in written}
    index = (tmp_path / "test.index.html").read_text()
    assert set(re.findall(r'href="([^"]+)"', index)) == names - {"test.index.html"}
    assert "manual" in index


def test_every_format_says_what_it_is_for():
    assert set(FORMATS) <= set(ABOUT)


@pytest.mark.parametrize("asked", ["all", ",".join(kind for kind in FORMATS if kind != "plan")])
def test_all_is_a_format_of_the_command_line_and_says_where_to_begin(run, tmp_path, asked):
    design = tmp_path / "squares.toml"
    design.write_text(SQUARES)
    out = tmp_path / "out"
    code, said, _ = run("plan", design, "-o", out, "--format", asked)
    assert code == 0
    assert len(list(out.iterdir())) == len(FORMATS) + 1
    assert f"begin with {out / 'squares.index.html'}" in said


def test_when_one_export_fails_none_is_written(plan, tmp_path, monkeypatch):
    def fail(plan):
        raise StitchpathError(f"{plan.top.name}: found no room, expected some")

    monkeypatch.setitem(FORMATS, "dxf", (".dxf", fail))
    with pytest.raises(StitchpathError, match="no room"):
        save_plan(plan, tmp_path / "out", tuple(FORMATS))
    assert not (tmp_path / "out").exists()
