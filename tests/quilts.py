"""Small designs for tests, and the laws that every plan obeys."""

import json
import math
from pathlib import Path

import jsonschema
import numpy as np
import shapely
from hypothesis import strategies as st
from plan_checker import faults
from shapely import affinity

from stitchpath.design.read import design_from_text
from stitchpath.plan import make_plan, plan_json
from stitchpath.plan_schema import plan_schema
from stitchpath.thread.time import route_time
from stitchpath.top.build import build_top

ROOT = Path(__file__).resolve().parents[1]
DESIGNS = ROOT / "designs"

SQUARES = """
name = "Squares"
[fabrics]
sand = "#e7d5b0"
sea = "#2f6f9f"
coral = "#dc6f50"
[blocks.squares]
size = 6
grid = ['sand sea', 'sea sand']
[layout]
rows = ["squares"]
"""

# Of each block one coral patch, which alone is stitched round: parts that lie apart.
FEATURE = SQUARES.replace("['sand sea', 'sea sand']", "['sand/sea coral', 'sea sand']")
FEATURE += '[lines]\nditch = "feature"\nfeature = ["coral"]\n'


def blocks(text, across, down):
    """Give a top of so many blocks, where there is one."""
    rows = f'rows = ["squares*{across}"]\nrepeat = {down}'
    return text.replace('rows = ["squares"]', rows)


def fan(*patches):
    """One block of 6 in, its patches given as (fabric, corners): the sky, then the rays."""
    names = ["sky", *(f"ray {k}" for k in range(1, len(patches)))]
    lines = "".join(f'  {{ name = "{name}", fabric = "{fabric}", points = {points} }},\n'
                    for name, (fabric, points) in zip(names, patches, strict=True))  # fmt: skip
    return f"""
name = "Fan"
[fabrics]
sand = "#e7d5b0"
sea = "#2f6f9f"
[blocks.fan]
size = 6
units = 6
patches = [
{lines}]
[layout]
rows = ["fan"]
"""


WALL = """
name = "Five stars"
unit = "in"
[fabrics]
foam = "#f2ede0"
navy = "#23405e"
mist = "#b9ced6"
[blocks.star]
library = "sawtooth star"
size = 6
fabrics = { star = "navy", ground = "foam" }
[blocks.plain]
size = 6
grid = ["foam"]
[layout]
rows = ["star plain star", "plain star plain", "star plain star"]
sashing = { width = "1 1/4 in", fabric = "mist", cornerstone = "navy", around = true }
[lines]
ditch = "all"
[batting]
margin = "2 in"
"""

STARFISH = """
name = "Starfish"
[fabrics]
sand = "#e7d5b0"
coral = "#dc6f50"
[blocks.plain]
size = 10
grid = ['sand sand']
[layout]
rows = ["plain"]
[[applique]]
name = "starfish"
file = "starfish.svg"
on = "A1"
size = 7
fabric = "coral"
thread = "coral"
[lines]
ditch = "none"
[threads.coral]
colour = "#8e3320"
"""


def coral(turn=8):
    """A branched star of coral: six arms, each with two pairs of twigs, as path data."""

    def limb(a, b, wide, narrow):
        return shapely.union_all([
            shapely.Point(a).buffer(wide), shapely.Point(b).buffer(narrow),
            shapely.MultiPoint([a, b]).buffer(narrow).convex_hull,
        ])  # fmt: skip

    arm = [limb((0, 0), (0, -95), 9, 4.5)]
    for y, long in ((-42, 34), (-68, 24)):
        for side in (1, -1):
            angle = math.radians(50 * side)
            end = long * math.sin(angle), y - long * math.cos(angle)
            arm.append(limb((0, y), end, 5, 3.5))
    one = shapely.union_all(arm)
    arms = [affinity.rotate(one, 60 * k + turn, origin=(0, 0)) for k in range(6)]
    star = shapely.union_all([*arms, shapely.Point(0, 0).buffer(16)]).buffer(-2).buffer(2)
    points = np.array(star.simplify(0.15).exterior.coords)[:-1]
    return "M " + " L ".join(f"{x:.2f} {y:.2f}" for x, y in points) + " Z"


def corals():
    """Two branched stars of coral, one turned, on plain blocks; nothing else to quilt."""
    text = STARFISH.partition("[[applique]]")[0].replace('rows = ["plain"]', 'rows = ["plain*2"]')
    text = text.replace("'sand sand'", "'sand'")
    for on, turn in (("A1", 0), ("A2", -20)):
        text += (
            f"[[applique]]\nname = 'coral'\noutline = '{coral()}'\non = '{on}'\nsize = 9\n"
            f"turn = {turn}\nfabric = 'coral'\nthread = 'coral'\n"
        )
    return text + '[lines]\nditch = "none"\n[threads.coral]\ncolour = "#8e3320"\n'


def design(text):
    return design_from_text(text, "test.toml", DESIGNS)


FABRICS = '[fabrics]\nsand = "#e7d5b0"\nsea = "#2f6f9f"\ncoral = "#dc6f50"\n'


def top(text):
    return build_top(design(text))


def drawn(*patches, layout='rows = ["own"]', rest=""):
    listed = "".join(
        f"[[blocks.own.patches]]\nname = {name!r}\nfabric = {fabric!r}\n{shape}\n"
        for name, fabric, shape in patches
    )
    return (
        f'name = "t"\nunit = "mm"\n{FABRICS}[blocks.own]\nsize = 100\nunits = 10\n{listed}'
        f"[layout]\n{layout}\n{rest}"
    )


def planned(text, **options):
    """Plan a design; every plan so made is held against the schema of plan.json."""
    plan = make_plan(design(text), **{"cures": False, "time_limit": 0.5, **options})
    assert_fits_schema(json.loads(plan_json(plan)))
    return plan


PLAN_SCHEMA = jsonschema.Draft202012Validator(plan_schema())


def assert_fits_schema(data):
    """Hold a plan.json against its schema, cheaply: the long lists of points by their form."""
    paths = [data["quilt"], *data["lines"], *(leg for run in data["runs"] for leg in run["legs"])]
    ends = {"outline", "points"}
    found = [(path, key, path[key]) for path in paths for key in ends & path.keys()]
    form = np.array([point for _, _, points in found for point in points])
    assert form.dtype.kind in "if"
    assert form.shape[1:] == (2,)
    for path, key, points in found:
        path[key] = points[:2]
    PLAN_SCHEMA.validate(data)


def length(points):
    return float(shapely.LineString(points).length)


def check_laws(plan):
    """Every line stitched once and whole, runs unbroken, lengths that add up."""
    stitched = []
    for run in plan.runs:
        at = None
        for leg in run.legs:
            assert at is None or tuple(leg.points[0]) == at
            at = tuple(leg.points[-1])
            if leg.do == "travel":
                assert leg.along in ("seam", "margin", "edge")
                continue
            line = plan.lines[leg.line]
            assert (line.stage, line.thread) == (run.stage, run.thread)
            assert sorted(map(tuple, leg.points)) == sorted(map(tuple, line.points))
            if leg.do == "stitch":
                stitched.append(leg.line)
    assert sorted(stitched) == list(range(len(plan.lines)))
    assert [run.stage for run in plan.runs] == sorted(run.stage for run in plan.runs)
    shapes = [piece.shape.buffer(2e-3) for piece in plan.top.pieces]
    for line in plan.lines:
        if line.kind == "centre":
            (number,) = line.of.pieces
            assert shapes[number].covers(shapely.LineString(line.points))
    once = sum(length(line.points) for line in plan.lines)
    assert math.isclose(plan.totals.stitched, once, rel_tol=1e-9)
    assert plan.proof.lower_bound <= plan.proof.cost * (1 + 1e-9)
    if plan.proof.unit == "mm":
        assert math.isclose(plan.proof.cost, price_of(plan), rel_tol=1e-9)
        return
    spent = route_time(plan.runs, plan.lines, plan.tariff)
    # Turns where lines meet, returns and feet are not weighed by the router yet.
    least = spent.stitching.sum() + spent.ends.sum() + spent.looks.sum()
    assert least * (1 - 1e-9) <= plan.proof.cost <= spent.price * (1 + 1e-9)


def price_of(plan):
    """Cost of a plan from its legs and ends alone, at the design's prices."""
    prices = plan.design.prices
    cost = 0.0
    centre = {
        (line.stage, line.thread, tuple(point))
        for line in plan.lines
        if line.kind == "centre"
        for point in (line.points[0].round(3), line.points[-1].round(3))
    }
    for run in plan.runs:
        ends = (run.legs[0].points[0], run.legs[-1].points[-1])
        for where, at in zip((run.start_where, run.end_where), ends, strict=True):
            outside = where == "margin" or (where == "edge" and not plan.design.batting.margin)
            shows = where == "inside" and (run.stage, run.thread, tuple(at.round(3))) in centre
            inside = prices.end_piece if shows else prices.end_inside
            cost += prices.end_margin if outside else inside
        for leg in run.legs:
            cost += length(leg.points) * {
                "stitch": lambda leg: 1.0,  # noqa: ARG005
                "retrace": lambda leg: (
                    prices.retrace_ditch
                    if plan.lines[leg.line].kind == "ditch"
                    else prices.retrace_shown
                ),
                "travel": lambda leg: (
                    prices.travel_seam if leg.along == "seam" else prices.travel_margin
                ),
            }[leg.do](leg)
    return cost


def verify(plan):
    """Ask the checker that shares no code with the package."""
    assert faults(json.loads(plan_json(plan)), [patch.polygon for patch in plan.top.patches]) == []


CELLS = st.sampled_from(
    ["sand", "sea", "coral", "sand/sea", "coral\\sand", "sea/coral", "sea\\coral"]
)


@st.composite
def layouts(draw):
    """Whole designs: blocks of random cells, turned and mirrored, with sashing and borders."""
    across, down = draw(st.integers(1, 2)), draw(st.integers(1, 3))
    grid = [" ".join(draw(CELLS) for _ in range(across)) for _ in range(down)]
    cells = ", ".join(f"'{row}'" for row in grid)
    size = draw(st.sampled_from(["3", "10 cm", "4 1/2 in"]))
    rows, columns = draw(st.integers(1, 3)), draw(st.integers(1, 2))
    turns = st.sampled_from(["", ":90", ":180", ":m", ":270m"])
    names = [" ".join("own" + draw(turns) for _ in range(columns)) for _ in range(rows)]
    text = (
        'name = "Random"\n[fabrics]\nsand = "#e7d5b0"\nsea = "#2f6f9f"\ncoral = "#dc6f50"\n'
        f"[blocks.own]\nsize = {size!r}\ngrid = [{cells}]\n[layout]\nrows = {names!r}\n"
    )
    if draw(st.booleans()):
        stone = ', cornerstone = "coral"' if draw(st.booleans()) else ""
        around = "true" if draw(st.booleans()) else "false"
        text += f'sashing = {{ width = 1, fabric = "sea"{stone}, around = {around} }}\n'
    for _ in range(draw(st.integers(0, 2))):
        corners = draw(st.sampled_from(["butted", "squares", "mitred"]))
        text += f'[[layout.borders]]\nwidth = 2\nfabric = "sand"\ncorners = "{corners}"\n'
    ditch = draw(st.sampled_from(["all", "blocks", "feature"]))
    text += f'[lines]\nditch = "{ditch}"\nfeature = ["coral", "sea"]\n'
    text += f"[batting]\nmargin = {draw(st.sampled_from(['2 in', '0', '5 mm']))!r}\n"
    retrace = draw(st.sampled_from(["never", "ditch", "allowed"]))
    return text + f'[route]\nretrace = "{retrace}"\n'
