"""A checker of plan.json that shares no code with stitchpath: what a plan promises, from its file.

It knows nothing but the plan as written (and, if given, the patches of the top) and says in plain
words what is wrong with it.
"""

from collections import Counter
from itertools import pairwise
from math import hypot, isclose

from shapely import LineString, Point, Polygon, STRtree, get_coordinates, union_all

NEAR = 0.001  # mm: the grid on which places are written
TOUCH = 0.003  # mm: places rounded one by one may lie so far from a line
DITCH = 0.1  # mm: a way so near to a seam lies in its ditch; pieces too short are drawn together
SUM = 1e-6  # part by which a sum may differ, for the rounding of what it sums


def faults(data, patches=()):
    """List what is wrong with a plan, an empty list if nothing is.

    Parameters
    ----------
    data
        plan.json, parsed.
    patches
        Outlines of all patches of the top, as polygons, mm: with them, ways along seams are
        looked for on their edges.
    """
    if data.get("format") != "stitchpath-plan/1":
        return [f"the format is {data.get('format')!r}"]
    return [
        *_lines_apart(data["lines"]),
        *_order(data),
        *_unbroken(data),
        *_stitched_once(data),
        *_on_lines(data),
        *_ways(data, patches),
        *_totals(data),
        *_proof(data),
    ]


def _length(points):
    return sum(hypot(c - a, d - b) for (a, b), (c, d) in pairwise(points))


def _same(one, two):
    return max(abs(one[0] - two[0]), abs(one[1] - two[1])) <= NEAR + 1e-9


def _stitched_once(data):
    """Every line is stitched by one leg."""
    times = Counter({line["id"]: 0 for line in data["lines"]})
    if len(times) < len(data["lines"]):
        yield "two lines have one name"
    for run in data["runs"]:
        stitched = [leg["line"] for leg in run["legs"] if leg["do"] == "stitch"]
        times.update(stitched)
        if not stitched:
            yield f"run {run['number']} stitches nothing"
    for name, count in times.items():
        if count != 1:
            yield f"{name} is stitched {count} times"


def _on_lines(data):
    """A line is stitched whole, either way; retraces lie on what they name."""
    lines = {line["id"]: line for line in data["lines"]}
    for run in data["runs"]:
        for leg in run["legs"]:
            if leg["do"] == "travel":
                continue
            if leg["line"] not in lines:
                yield f"run {run['number']} names {leg['line']}, which is no line"
                continue
            line = lines[leg["line"]]
            if (line["stage"], line["thread"]) != (run["stage"], run["thread"]):
                yield f"run {run['number']} holds {leg['line']} of another stage or thread"
            whole = leg["points"] in (line["points"], line["points"][::-1])
            if leg["do"] == "stitch" and not whole:
                yield f"{leg['line']} is not stitched as it is drawn"
            if leg["do"] == "retrace" and not _lies_on(leg["points"], [LineString(line["points"])]):
                yield f"run {run['number']} retraces {leg['line']} elsewhere"


def _order(data):
    """Runs are numbered in order, and stages never go back."""
    for count, run in enumerate(data["runs"], 1):
        if run["number"] != count:
            yield f"run {run['number']} stands at place {count}"
    for one, two in pairwise(data["runs"]):
        if two["stage"] < one["stage"]:
            yield f"run {two['number']} goes back to stage {two['stage']}"


def _unbroken(data):
    """Runs are unbroken, and begin and end where they say."""
    outline = Polygon(data["quilt"]["outline"])
    box = (0, 0, data["quilt"]["width"], data["quilt"]["height"])
    if any(abs(a - b) > 0.01 for a, b in zip(outline.bounds, box, strict=True)):
        yield "the outline has not the size of the quilt"
    for run in data["runs"]:
        name, legs = f"run {run['number']}", run["legs"]
        if not legs:
            yield f"{name} has no legs"
            continue
        for k, (one, two) in enumerate(pairwise(legs), 2):
            if not _same(one["points"][-1], two["points"][0]):
                yield f"{name} breaks before leg {k}"
        for tip, at in (("start", legs[0]["points"][0]), ("end", legs[-1]["points"][-1])):
            if not _same(run[tip]["point"], at):
                yield f"{name} does not {tip} where it says"
            if run[tip]["where"] != _where(outline, run[tip]["point"]):
                yield f"{name}: its {tip} is not {run[tip]['where']}"


def _where(outline, point):
    if outline.exterior.distance(Point(point)) <= TOUCH:
        return "edge"
    return "inside" if outline.contains(Point(point)) else "margin"


def _lies_on(points, lines, near=TOUCH):
    """Tell whether a polyline leads along others and nowhere else."""
    return LineString(points).difference(union_all([x.buffer(near) for x in lines])).length < NEAR


def _ways(data, patches):
    """Travel never crosses open fabric."""
    outline = Polygon(data["quilt"]["outline"])
    reach, within = outline.buffer(data["margin"] + 0.01), outline.buffer(-2 * TOUCH)
    edges = [patch.exterior for patch in patches]
    tree = STRtree(edges)
    for run in data["runs"]:
        for leg in run["legs"]:
            if leg["do"] != "travel":
                continue
            way, along = LineString(leg["points"]), leg["along"]
            if along == "seam" and edges:
                near = [edges[i] for i in tree.query(way.buffer(DITCH))]
                if not _lies_on(leg["points"], near, DITCH):
                    yield f"run {run['number']} travels over open fabric"
            elif along == "seam" and not outline.buffer(TOUCH).covers(way):
                yield f"run {run['number']} travels along a seam outside the top"
            elif along == "edge" and not _lies_on(leg["points"], [outline.exterior]):
                yield f"run {run['number']} travels along no edge"
            elif along == "margin" and (
                way.intersection(within).length > 0.01 or not reach.covers(way)
            ):
                yield f"run {run['number']} travels outside the margin"
            elif along not in ("seam", "edge", "margin"):
                yield f"run {run['number']} travels along {along!r}"


def _lines_apart(lines):
    """Lines of one stage and thread meet only at their ends."""
    groups = {}
    for line in lines:
        groups.setdefault((line["stage"], line["thread"]), []).append(line)
    for members in groups.values():
        shapes = [LineString(line["points"]) for line in members]
        for line, shape in zip(members, shapes, strict=True):
            if not shape.is_simple:
                yield f"{line['id']} crosses itself"
        one, two = STRtree(shapes).query(shapes, predicate="intersects")
        for i, j in zip(one.tolist(), two.tolist(), strict=True):
            if i >= j:
                continue
            common = shapes[i].intersection(shapes[j])
            ends = [[shape.coords[0], shape.coords[-1]] for shape in (shapes[i], shapes[j])]
            met = get_coordinates(common).tolist()
            apart = any(min(hypot(x - a, y - b) for a, b in tips) > TOUCH
                        for x, y in met for tips in ends)  # fmt: skip
            if common.length > TOUCH or apart:
                yield f"{members[i]['id']} and {members[j]['id']} meet elsewhere than at ends"


def _totals(data):
    """Sums are those of the legs; the proof proves what it says."""
    sums = {"stitch": 0.0, "retrace": 0.0, "travel": 0.0}
    for run in data["runs"]:
        for leg in run["legs"]:
            sums[leg["do"]] += _length(leg["points"])
    told = data["totals"]
    for do, name in (("stitch", "stitched"), ("retrace", "retraced"), ("travel", "travelled")):
        if not isclose(sums[do], told[name], rel_tol=SUM, abs_tol=0.01):
            yield f"{name} is {told[name]}, its legs come to {sums[do]:.3f}"
    groups = {(run["stage"], run["thread"]) for run in data["runs"]}
    if told["runs"] != len(data["runs"]):
        yield f"runs are {len(data['runs'])}, not {told['runs']}"
    if told["breaks"] != len(data["runs"]) - len(groups):
        yield f"breaks are {len(data['runs']) - len(groups)}, not {told['breaks']}"
    threads = {run["thread"] for run in data["runs"]}
    if threads != {thread["name"] for thread in data["thread"]}:
        yield "the threads told of are not those of the runs"


def _proof(data):
    """The proof proves what it says."""
    cost, bound = data["proof"]["cost"], data["proof"]["lower_bound"]
    if bound > cost:
        yield f"the bound {bound} is above the cost {cost}"
    if data["proof"]["optimal"] != (cost - bound <= 2e-6 * cost + 0.001):
        yield f"a cost of {cost} and a bound of {bound} are called {data['proof']['optimal']}"
    once = sum(_length(line["points"]) for line in data["lines"])
    if data["proof"]["unit"] == "mm" and cost < once * (1 - SUM) - 0.001:  # both are rounded
        yield f"the cost {cost} is less than what is stitched"
