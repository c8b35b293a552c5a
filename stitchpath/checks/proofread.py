"""Every plan is read through before it is written, to see whether what it says holds.

Nothing here is shared with the noding, the graphs or the router, so that a fault of theirs cannot
hide itself. What is asked of a plan is the contract of its file, and what her hands would find out:
that travel lies where no stitching shows, that no line is shorter than a stitch can be, that every
run stitches something.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING, Any, NamedTuple, Protocol

import numpy as np
import shapely
from shapely import Polygon

from stitchpath.base.typing import BoolArray, FloatArray, Geometries, IntArray
from stitchpath.base.units import Unit, format_place
from stitchpath.thread.time import route_time

if TYPE_CHECKING:  # for the types alone: nothing of theirs is run here
    from stitchpath.design.model import Design
    from stitchpath.hands.tariff import Tariff
    from stitchpath.lines.line import Line
    from stitchpath.route.runs import Proof, Run
    from stitchpath.top.build import Top

__all__ = ["faults_of", "plan_faults"]

_FORMAT = "stitchpath-plan/1"
_ROUNDED = 1e-3  # mm: places so near are one, as the file rounds
_TIP = 2e-3  # mm: lines that come so near to an end meet there, for both are rounded
_SHORTEST = 0.05  # mm
_IN_DITCH = 0.1  # mm off a seam that is still in its ditch
_OVER = 0.01  # mm of a way beyond the margin, or of lines over each other: rounding does that
_SUM = 1e-6  # share by which sums may differ
_GAP = 1e-4  # share of the cost within which a bound proves it
_TOLD = 20  # so many faults of one kind are listed
_DO = ("stitch", "retrace", "travel")
_SHARES = (0.31, 0.5, 0.77)  # of a straight piece, where it is looked at between its ends
_PAIR = 2


class _Totals(Protocol):
    """Sums over all legs that a plan tells: mm and counts."""

    @property
    def stitched(self) -> float: ...
    @property
    def retraced(self) -> float: ...
    @property
    def travelled(self) -> float: ...
    @property
    def runs(self) -> int: ...
    @property
    def breaks(self) -> int: ...


class _Plan(Protocol):
    """What is read of a plan. The plan itself is made on a floor above."""

    @property
    def design(self) -> "Design": ...
    @property
    def top(self) -> "Top": ...
    @property
    def lines(self) -> "Sequence[Line]": ...
    @property
    def runs(self) -> "Sequence[Run]": ...
    @property
    def proof(self) -> "Proof": ...
    @property
    def tariff(self) -> "Tariff": ...
    @property
    def totals(self) -> _Totals: ...


class _Fault(NamedTuple):
    what: str
    at: FloatArray | None = None


@dataclass(frozen=True, slots=True)
class _Paths:
    """Polylines end to end: points of shape (n, 2), and where each begins."""

    points: FloatArray
    first: IntArray

    @property
    def last(self) -> IntArray:
        return np.append(self.first[1:], len(self.points))[: len(self.first)] - 1

    @property
    def owner(self) -> IntArray:
        return np.repeat(np.arange(len(self.first)), self.last - self.first + 1)

    @property
    def lengths(self) -> FloatArray:
        if not len(self.first):
            return np.zeros(0)
        steps = np.hypot(*np.diff(self.points, axis=0).T)
        steps[self.first[1:] - 1] = 0.0
        return np.add.reduceat(np.append(steps, 0.0), self.first)

    def some(self, which: IntArray) -> "_Paths":
        counts = (self.last - self.first + 1)[which]
        first = np.cumsum(counts) - counts
        index = np.arange(int(counts.sum())) + np.repeat(self.first[which] - first, counts)
        return _Paths(self.points[index], first)

    def shapes(self) -> Geometries:
        if not len(self.first):
            return np.empty(0, dtype=object)
        return np.asarray(shapely.linestrings(self.points, indices=self.owner))


class _End(NamedTuple):
    at: Sequence[float]
    where: str


class _Run(NamedTuple):
    number: int
    stage: int
    thread: str
    start: _End
    end: _End


@dataclass(frozen=True, slots=True)
class _Sheet:
    """A plan as it is read through: legs of all runs in one list."""

    ids: Sequence[str]
    groups: Sequence[tuple[int, str]]
    lines: _Paths
    runs: Sequence[_Run]
    run: IntArray
    do: IntArray
    line: IntArray
    along: Sequence[str | None]
    legs: _Paths
    outline: Polygon
    margin: float
    totals: Mapping[str, float]
    proof: Mapping[str, float]
    seams: _Paths | None
    unit: Unit


def plan_faults(data: Mapping[str, Any]) -> tuple[str, ...]:
    """Read through a plan as it stands in plan.json.

    Parameters
    ----------
    data
        The file's content.

    Returns
    -------
    tuple of str
        What does not hold, each with its place; none when all is well. Whether a way of travel lies
        on a seam cannot be told from the file; that it stays on the top can.
    """
    if data.get("format") != _FORMAT:
        return (f"found the format {str(data.get('format'))[:40]!r}, expected {_FORMAT!r}",)
    try:
        sheet = _sheet_of(data)
    except (KeyError, TypeError, ValueError, AttributeError, shapely.errors.ShapelyError) as error:
        said = str(error)[:80] or type(error).__name__
        return (f"found a plan that cannot be read ({said}), expected one of {_FORMAT}",)
    return _told(sheet, _faults(sheet))


def faults_of(plan: "_Plan") -> tuple[str, ...]:
    """Read through a plan before it is written.

    Parameters
    ----------
    plan
        From `make_plan`.

    Returns
    -------
    tuple of str
        What does not hold, each with its place; none when all is well. Beside what `plan_faults`
        asks: that travel along seams lies on them, and that the cost is that of legs and ends at
        the prices of the design.
    """
    sheet = _sheet_of_plan(plan)
    return _told(sheet, [*_faults(sheet), *_wrong_cost(plan, sheet)])


def _told(sheet: _Sheet, faults: Iterable[_Fault]) -> tuple[str, ...]:
    said = []
    for what, at in faults:
        place = ""
        if at is not None and np.isfinite(at).all():
            x, y = at.tolist()
            place = f", at {format_place(x, y, sheet.unit)}"
        said.append(what + place)
    return tuple(said)


# ---- two ways to lay a plan out -----------------------------------------------------------------


def _laid(paths: Sequence[Any]) -> _Paths:
    arrays = [p if isinstance(p, np.ndarray) else np.asarray(p, np.float64) for p in paths]
    counts = np.array([len(path) for path in arrays], dtype=np.int64)
    points = np.concatenate(arrays) if arrays else np.empty((0, 2))
    if points.shape[1:] != (_PAIR,) or counts.min(initial=_PAIR) < _PAIR:
        raise ValueError("a line or leg of fewer than two points")
    if not np.isfinite(points).all():
        raise ValueError("a place that is no number")
    return _Paths(points, np.cumsum(counts) - counts)


def _sheet_of(data: Mapping[str, Any]) -> _Sheet:
    ids = [line["id"] for line in data["lines"]]
    index = {name: k for k, name in enumerate(ids)}
    legs = [(k, leg) for k, run in enumerate(data["runs"]) for leg in run["legs"]]
    named = [-1 if leg["do"] == "travel" else index.get(leg["line"], -1) for _, leg in legs]
    return _Sheet(
        ids=ids,
        groups=[(line["stage"], line["thread"]) for line in data["lines"]],
        lines=_laid([line["points"] for line in data["lines"]]),
        runs=[
            _Run(
                run["number"],
                run["stage"],
                run["thread"],
                _End(run["start"]["point"], run["start"]["where"]),
                _End(run["end"]["point"], run["end"]["where"]),
            )
            for run in data["runs"]
        ],
        run=np.array([k for k, _ in legs], dtype=np.int64),
        do=np.array([_DO.index(leg["do"]) for _, leg in legs], dtype=np.int64),
        line=np.array(named, dtype=np.int64),
        along=[leg.get("along") for _, leg in legs],
        legs=_laid([leg["points"] for _, leg in legs]),
        outline=Polygon(data["quilt"]["outline"]),
        margin=float(data["margin"]),
        totals=data["totals"],
        proof=data["proof"],
        seams=None,
        unit="in" if data.get("unit") == "in" else "mm",
    )


def _sheet_of_plan(plan: "_Plan") -> _Sheet:
    legs = [leg for run in plan.runs for leg in run.legs]
    totals = plan.totals
    tips = [
        [run.legs[k].points[k].tolist() if run.legs else (np.nan, np.nan) for k in (0, -1)]
        for run in plan.runs
    ]
    return _Sheet(
        ids=[f"L{k + 1}" for k in range(len(plan.lines))],
        groups=[(line.stage, line.thread) for line in plan.lines],
        lines=_laid([line.points for line in plan.lines]),
        runs=[
            _Run(run.number, run.stage, run.thread,
                 _End(start, run.start_where), _End(end, run.end_where))
            for run, (start, end) in zip(plan.runs, tips, strict=True)
        ],
        run=np.repeat(np.arange(len(plan.runs)), [len(run.legs) for run in plan.runs]),
        do=np.array([_DO.index(leg.do) for leg in legs], dtype=np.int64),
        line=np.array([leg.line for leg in legs], dtype=np.int64),
        along=[leg.along for leg in legs],
        legs=_laid([leg.points for leg in legs]),
        outline=plan.top.outline,
        margin=plan.design.batting.margin,
        totals={
            "stitched": totals.stitched, "retraced": totals.retraced,
            "travelled": totals.travelled, "runs": totals.runs, "breaks": totals.breaks,
        },
        proof={
            "cost": plan.proof.cost, "lower_bound": plan.proof.lower_bound,
            "optimal": plan.proof.optimal,
        },
        seams=_laid([seam.points for seam in plan.top.seams]),
        unit=plan.top.unit,
    )  # fmt: skip


# ---- what has to hold ---------------------------------------------------------------------------


def _faults(sheet: _Sheet) -> Iterator[_Fault]:
    for ask in (
        _names, _short_lines, _meetings, _order, _joins, _ends, _stitches, _retraces, _travel,
        _sums, _bound,
    ):  # fmt: skip
        yield from islice(ask(sheet), _TOLD)


def _names(sheet: _Sheet) -> Iterator[_Fault]:
    if len(set(sheet.ids)) < len(sheet.ids):
        yield _Fault("two lines have one name")
    if not sheet.ids:
        yield _Fault("there is no line")


def _short_lines(sheet: _Sheet) -> Iterator[_Fault]:
    lengths = sheet.lines.lengths
    for k in np.flatnonzero(lengths < _SHORTEST - 1e-6).tolist():
        yield _Fault(
            f"line {sheet.ids[k]} is {lengths[k]:.3f} mm long, less than {_SHORTEST} mm",
            sheet.lines.points[sheet.lines.first[k]],
        )


def _meetings(sheet: _Sheet) -> Iterator[_Fault]:
    """Lines of one stage and thread meet only at their ends."""
    shapes = sheet.lines.shapes()
    first, last = sheet.lines.first, sheet.lines.last
    bent = np.flatnonzero(last - first > 1)
    for k in bent[~shapely.is_simple(shapes[bent])].tolist():
        yield _Fault(f"line {sheet.ids[k]} crosses itself", sheet.lines.points[first[k]])
    codes: dict[tuple[int, str], int] = {}
    group = np.array([codes.setdefault(key, len(codes)) for key in sheet.groups], dtype=np.int64)
    left, right = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    pairs = (left < right) & (group[left] == group[right])
    left, right = left[pairs], right[pairs]
    tips = np.stack([sheet.lines.points[first], sheet.lines.points[last]], axis=1)
    closer = ~_straight_on_from_one_end(tips, last - first == 1, left, right)
    left, right = left[closer], right[closer]
    common = shapely.intersection(shapes[left], shapes[right])
    over = shapely.length(common) > _OVER
    points, which = shapely.get_coordinates(common, return_index=True)
    for off in (left, right):
        away = np.hypot(*(tips[off[which]] - points[:, None]).transpose(2, 0, 1)).min(axis=1)
        over[which[away > _TIP]] = True
    place = np.searchsorted(which, np.arange(len(left)))
    for k in np.flatnonzero(over).tolist():
        one, two = sheet.ids[left[k]], sheet.ids[right[k]]
        yield _Fault(f"lines {one} and {two} meet off their ends", points[place[k]])


def _straight_on_from_one_end(
    tips: FloatArray, straight: BoolArray, left: IntArray, right: IntArray
) -> BoolArray:
    """Tell which pairs are straight lines that share an end and lead different ways from it."""
    fine = np.zeros(len(left), dtype=bool)
    for i in (0, 1):
        for j in (0, 1):
            shared = (tips[left, i] == tips[right, j]).all(axis=1)
            one = tips[left, 1 - i] - tips[left, i]
            two = tips[right, 1 - j] - tips[right, j]
            cross = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0]
            back = (one * two).sum(axis=1) < 0
            fine |= shared & (back | (np.abs(cross) > _ROUNDED))
    return fine & straight[left] & straight[right]


def _order(sheet: _Sheet) -> Iterator[_Fault]:
    for k, run in enumerate(sheet.runs):
        if run.number != k + 1:
            yield _Fault(f"run {run.number} stands at place {k + 1}")
        if k and run.stage < sheet.runs[k - 1].stage:
            yield _Fault(f"run {run.number} goes back to stage {run.stage}")
    stitching = np.bincount(sheet.run[sheet.do == 0], minlength=len(sheet.runs))
    for k in np.flatnonzero(stitching == 0).tolist():
        yield _Fault(f"run {sheet.runs[k].number} stitches nothing")


def _joins(sheet: _Sheet) -> Iterator[_Fault]:
    """Each leg begins where the one before it ended, and a run at its start."""
    if not len(sheet.run):
        return
    begins, ends = sheet.legs.points[sheet.legs.first], sheet.legs.points[sheet.legs.last]
    new = np.append([True], sheet.run[1:] != sheet.run[:-1])
    starts = np.array([run.start.at for run in sheet.runs])
    stops = np.array([run.end.at for run in sheet.runs])
    before = np.where(new[:, None], starts[sheet.run], np.roll(ends, 1, axis=0))
    for k in np.flatnonzero(_apart(begins, before)).tolist():
        yield _Fault(
            f"a leg of run {sheet.runs[sheet.run[k]].number} does not begin where thread is",
            begins[k],
        )
    final = np.append(new[1:], True)
    for k in np.flatnonzero(final & _apart(ends, stops[sheet.run])).tolist():
        yield _Fault(f"run {sheet.runs[sheet.run[k]].number} does not end at its end", ends[k])


def _apart(one: FloatArray, two: FloatArray) -> BoolArray:
    return np.asarray(~(np.hypot(*(one - two).T) <= _ROUNDED * 1.01), dtype=bool)


def _ends(sheet: _Sheet) -> Iterator[_Fault]:
    """Where a run starts and ends is what it says: margin, edge or inside."""
    shapely.prepare(sheet.outline)
    ends = [(run.number, end) for run in sheet.runs for end in (run.start, run.end)]
    points = shapely.points([end.at for _, end in ends])
    away = shapely.distance(sheet.outline.exterior, points)
    inside = shapely.contains(sheet.outline, points)
    for (number, end), far, within in zip(ends, away.tolist(), inside.tolist(), strict=True):
        where = "inside" if within else "margin"
        # A place a rounding off the edge may be called either.
        if not (end.where == where if far > _TIP else end.where in ("edge", where)):
            yield _Fault(
                f"an end of run {number} is said to be {end.where} and is {where}",
                np.array(end.at, dtype=np.float64),
            )


def _stitches(sheet: _Sheet) -> Iterator[_Fault]:
    """Every line is stitched once and whole, by a run of its own stage and thread."""
    over = np.flatnonzero((sheet.do != _DO.index("travel")) & (sheet.line < 0))
    for k in over.tolist():
        yield _Fault(f"run {sheet.runs[sheet.run[k]].number} goes over a line that is not listed")
    legs = np.flatnonzero((sheet.do == 0) & (sheet.line >= 0))
    times = np.bincount(sheet.line[legs], minlength=len(sheet.ids))
    for k in np.flatnonzero(times != 1).tolist():
        at = sheet.lines.points[sheet.lines.first[k]]
        yield _Fault(f"line {sheet.ids[k]} is stitched {times[k]} times", at)
    whole = _same_way(sheet, legs)
    for k in legs[~whole].tolist():
        at = sheet.legs.points[sheet.legs.first[k]]
        yield _Fault(f"the leg over line {sheet.ids[sheet.line[k]]} is not that line", at)
    for k in np.flatnonzero(sheet.line >= 0).tolist():
        run = sheet.runs[sheet.run[k]]
        if sheet.groups[sheet.line[k]] != (run.stage, run.thread):
            yield _Fault(
                f"run {run.number} goes over line {sheet.ids[sheet.line[k]]}, which is of another "
                "stage or thread",
                sheet.legs.points[sheet.legs.first[k]],
            )


def _same_way(sheet: _Sheet, legs: IntArray) -> BoolArray:
    """Tell which legs are the whole of their line, in one direction or the other."""
    same = np.zeros(len(legs), dtype=bool)
    counts = [(paths.last - paths.first + 1)[k]
              for paths, k in ((sheet.legs, legs), (sheet.lines, sheet.line[legs]))]  # fmt: skip
    alike = np.flatnonzero(counts[0] == counts[1])
    if not len(alike):
        return same
    walked = sheet.legs.some(legs[alike])
    asked = sheet.lines.some(sheet.line[legs[alike]])
    back = (asked.first + asked.last)[asked.owner] - np.arange(len(asked.points))
    for points in (asked.points, asked.points[back]):
        off = np.abs(walked.points - points).max(axis=1)
        same[alike] |= np.maximum.reduceat(off, walked.first) <= _ROUNDED * 1.01
    return same


def _retraces(sheet: _Sheet) -> Iterator[_Fault]:
    """See that what is gone over again lies on its line, whole or in part."""
    legs = np.flatnonzero((sheet.do == 1) & (sheet.line >= 0))
    legs = legs[~_same_way(sheet, legs)]
    if not len(legs):
        return
    lines = shapely.buffer(sheet.lines.some(sheet.line[legs]).shapes(), _TIP)
    for k in legs[~shapely.covers(lines, sheet.legs.some(legs).shapes())].tolist():
        at = sheet.legs.points[sheet.legs.first[k]]
        yield _Fault(f"a retrace leaves line {sheet.ids[sheet.line[k]]}", at)


def _travel(sheet: _Sheet) -> Iterator[_Fault]:
    """Travel never crosses open fabric: it lies on a seam, in the margin or on the edge."""
    along = np.array([str(word) for word in sheet.along])
    travel = sheet.do == _DO.index("travel")
    for k in np.flatnonzero(travel & ~np.isin(along, ("seam", "margin", "edge"))).tolist():
        yield _Fault(f"a way along {str(along[k])!r}", sheet.legs.points[sheet.legs.first[k]])
    edge = sheet.outline.exterior
    shapely.prepare(edge)
    legs = np.flatnonzero(travel & (along == "edge"))
    yield from _off(sheet, legs, _near(sheet.legs.some(legs), edge, _TIP), "edge")
    legs = np.flatnonzero(travel & (along == "margin"))
    yield from _off(sheet, legs, _in_margin(sheet, legs), "margin")
    legs = np.flatnonzero(travel & (along == "seam"))
    ways = sheet.legs.some(legs)
    fine = _near(ways, sheet.outline, _IN_DITCH)
    if sheet.seams is not None:
        fine &= _near_some(ways, sheet.seams)
    yield from _off(sheet, legs, fine, "seam")


def _off(sheet: _Sheet, legs: IntArray, fine: BoolArray, what: str) -> Iterator[_Fault]:
    for k in legs[~fine].tolist():
        number = sheet.runs[sheet.run[k]].number
        at = sheet.legs.points[sheet.legs.first[k]]
        yield _Fault(f"a way of run {number} along the {what} does not keep to it", at)


def _in_margin(sheet: _Sheet, legs: IntArray) -> BoolArray:
    """Tell which ways stay off the top, and on the batting that stands out."""
    shapes = sheet.legs.some(legs).shapes()
    if not len(shapes):
        return np.zeros(0, dtype=bool)
    top = sheet.outline.buffer(-_ROUNDED)
    batting = sheet.outline.buffer(1.01 * sheet.margin + _OVER, join_style="mitre")
    for shape in (top, batting):
        shapely.prepare(shape)
    over = shapely.length(shapely.intersection(shapes, top)) > _OVER
    return np.asarray(shapely.covers(batting, shapes) & ~over, dtype=bool)


def _looked_at(paths: _Paths) -> tuple[FloatArray, IntArray]:
    """Give places along polylines, their points and some between, and of which each is."""
    owner = paths.owner
    step = np.flatnonzero(owner[1:] == owner[:-1])
    one, two = paths.points[step], paths.points[step + 1]
    between = [one + share * (two - one) for share in _SHARES]
    return np.concatenate([paths.points, *between]), np.concatenate([owner, *[owner[step]] * 3])


def _near(paths: _Paths, shape: shapely.Geometry, distance: float) -> BoolArray:
    """Tell which polylines keep to a shape."""
    points, owner = _looked_at(paths)
    shapely.prepare(shape)
    fine = np.ones(len(paths.first), dtype=bool)
    fine[owner[~shapely.dwithin(shape, shapely.points(points), distance)]] = False
    return fine


def _near_some(paths: _Paths, others: _Paths) -> BoolArray:
    """Tell which polylines keep to one or another of some polylines."""
    points, owner = _looked_at(paths)
    fine = np.ones(len(paths.first), dtype=bool)
    if not len(points):
        return fine
    tree = shapely.STRtree(others.shapes())
    found, _ = tree.query(shapely.points(points), predicate="dwithin", distance=_IN_DITCH)
    lost = np.ones(len(points), dtype=bool)
    lost[found] = False
    fine[owner[lost]] = False
    return fine


def _sums(sheet: _Sheet) -> Iterator[_Fault]:
    lengths = sheet.legs.lengths
    for key, do in (("stitched", 0), ("retraced", 1), ("travelled", 2)):
        summed, said = float(lengths[sheet.do == do].sum()), float(sheet.totals[key])
        if not abs(summed - said) <= _SUM * max(summed, 1.0) + _ROUNDED:
            yield _Fault(f"{said:.3f} mm are said to be {key}, the legs come to {summed:.3f} mm")
    groups = {(run.stage, run.thread) for run in sheet.runs}
    for key, count in (("runs", len(sheet.runs)), ("breaks", len(sheet.runs) - len(groups))):
        if sheet.totals[key] != count:
            yield _Fault(f"{sheet.totals[key]} {key} are told of, there are {count}")


def _bound(sheet: _Sheet) -> Iterator[_Fault]:
    cost, bound = float(sheet.proof["cost"]), float(sheet.proof["lower_bound"])
    if not (np.isfinite(cost) and bound <= cost * (1 + _SUM) + _SUM):
        yield _Fault(f"the bound {bound:.3f} lies above the cost {cost:.3f}")
    if sheet.proof["optimal"] and not cost - bound <= _GAP * max(cost, 1.0):
        yield _Fault(f"the cost {cost:.3f} is called proven at a bound of {bound:.3f}")


def _wrong_cost(plan: "_Plan", sheet: _Sheet) -> Iterator[_Fault]:
    """Reckon the cost from legs and ends alone: by the clock, or at the prices of the design."""
    if plan.design.prices is None:
        spent = route_time(plan.runs, plan.lines, plan.tariff)
        if not abs(spent.price - plan.proof.cost) <= _SUM * max(spent.price, 1.0):
            yield _Fault(
                f"the cost is said to be {plan.proof.cost:.3f} s, "
                f"the legs come to {spent.price:.3f} s"
            )
        return
    prices = plan.design.prices
    open_line = np.array([line.kind != "ditch" for line in plan.lines], dtype=bool)
    again = np.where(open_line, prices.retrace_shown, prices.retrace_ditch)[sheet.line]
    way = np.array([prices.travel_seam if a == "seam" else prices.travel_margin
                    for a in sheet.along])  # fmt: skip
    each = np.select([sheet.do == 0, sheet.do == 1], [1.0, again], way)
    cost = float(sheet.legs.lengths @ each)
    shows = {
        (line.stage, line.thread, *np.rint(end / _ROUNDED).tolist())
        for line in plan.lines
        if line.kind == "centre"
        for end in line.points[[0, -1]]
    }
    for run in sheet.runs:
        for end in (run.start, run.end):
            here = (run.stage, run.thread, *np.rint(np.array(end.at) / _ROUNDED).tolist())
            if end.where == "margin" or (end.where == "edge" and sheet.margin == 0):
                cost += prices.end_margin
            elif end.where == "inside" and here in shows:
                cost += prices.end_piece
            else:
                cost += prices.end_inside
    if not abs(cost - plan.proof.cost) <= _SUM * max(cost, 1.0):
        yield _Fault(f"the cost is said to be {plan.proof.cost:.3f}, the legs come to {cost:.3f}")
