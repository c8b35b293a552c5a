"""Run the stages and hold what comes out: the plan, and its plan.json."""

import json
from collections.abc import Callable, Container, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial, wraps
from typing import Any, Concatenate, NamedTuple, ParamSpec, TypeVar, cast

import numpy as np
from shapely import Polygon

from stitchpath.base.errors import InternalError, StitchpathError
from stitchpath.base.typing import FloatArray
from stitchpath.base.units import format_length
from stitchpath.checks.all import Check, check_plan
from stitchpath.checks.cures import Survey, Taken, survey
from stitchpath.checks.fusing import check_fusing
from stitchpath.checks.loading import check_loading
from stitchpath.checks.proofread import faults_of
from stitchpath.checks.throat import check_throat
from stitchpath.design.model import Design
from stitchpath.geometry.polylines import path_lengths
from stitchpath.geometry.tolerances import SAME_PLACE
from stitchpath.hands.tariff import Tariff, tariff_of
from stitchpath.lines.fills.pattern import FREE
from stitchpath.lines.frame.loading import Loading, as_loaded, choose_loading
from stitchpath.lines.frame.windows import (
    Window,
    axis_of,
    cut_lines,
    frame_windows,
    numbered_units,
)
from stitchpath.lines.line import Line
from stitchpath.lines.threads import thread_colours
from stitchpath.network.fusing import Fusing, fusing_of
from stitchpath.network.graph import Network, build_networks, travelling_groups
from stitchpath.network.noding import node_lines
from stitchpath.network.parting import part_by_windows
from stitchpath.plan_schema import FORMAT
from stitchpath.route.effort import Effort, checked_limit
from stitchpath.route.parking import Parked, choose_parked, joined, route_parked
from stitchpath.route.router import Order, Routed, UnreachedError, route
from stitchpath.route.rows import AS_ASKED, AsAsked, NoRowsError
from stitchpath.route.runs import Proof, Run
from stitchpath.route.shown import Shown
from stitchpath.thread import (
    BobbinChange,
    RunPoint,
    RunThread,
    RunTime,
    ThreadPlan,
    moves_of,
    plan_thread,
    run_times,
)
from stitchpath.thread.from_design import Needs, needs_of, stitching_of
from stitchpath.thread.leg_arrays import leg_arrays
from stitchpath.thread.throat import Roll, rolls_of_areas, rolls_of_runs
from stitchpath.top.build import Top
from stitchpath.top.place import Subject
from stitchpath.top.place_names import Places

__all__ = [
    "Anchoring",
    "Plan",
    "Rolls",
    "Totals",
    "check_design",
    "lines_of",
    "look_over",
    "make_plan",
    "once",
    "plan_json",
    "stitching_of",
]

_LARGE = 40 * 25.4  # mm: on tops with a longer short side the anchoring seams come first
_SECONDS = 10.0  # for the proofs, counted in work
_SOON = 300  # lines: a cure of a quilt with more is not planned to say what it takes
_PIXELS = (1, 10, 50)  # µm: how finely lines are noded; more coarsely where a plan does not hold

_T = TypeVar("_T")
_P = ParamSpec("_P")


@dataclass(frozen=True, slots=True)
class Totals:
    """Sums over all legs: mm and counts."""

    stitched: float
    retraced: float
    travelled: float
    runs: int
    breaks: int


@dataclass(frozen=True, slots=True)
class Anchoring:
    """The pass over the anchoring seams: its runs, and what its ends and ways cost beyond them."""

    runs: int
    extra: float


class Rolls(NamedTuple):
    """What lies right of the needle, by run, and by area with what that is."""

    runs: tuple[Roll, ...]
    areas: tuple[tuple[Subject, Roll], ...]


@dataclass(frozen=True, eq=False, repr=False)
class Plan(Shown):
    """A planned quilt: every export is drawn from this.

    Plans are told apart by identity; what several exports need of one is made once (`once`), and
    the plan holds it.

    Attributes
    ----------
    design, top
        What it was made from.
    lines
        Every line to stitch, noded.
    runs
        In stitching order.
    proof
        Cost and bound summed over stages and threads.
    turning, pivots, about_turns
        Sum of turning where lines meet, degrees; turns of more than 30 degrees and turns back,
        corners within lines counted as the clock counts them.
    returns, foot_changes
        How often she comes back to an area that she has left, and changes the foot.
    least_turning
        No runs with the same ends turn less, degrees.
    anchoring
        Runs and cost of the pass over the anchoring seams, where there is one.
    windows
        In a frame, what it shows at a time.
    loading
        In a frame, which way the quilt is loaded, and what the other would take.
    fusing
        In a frame, where pieces are fused that are put on after the quilting.
    thread
        Thread and bobbins.
    tariff
        What everything takes on this top, in seconds.
    times
        By run, in stitching order.
    needs
        What to buy and cut, and what it costs.
    rolls
        What lies right of the needle, where the throat of the machine is known.
    checks
        What could go wrong.
    """

    design: Design
    top: Top
    lines: tuple[Line, ...]
    runs: tuple[Run, ...]
    proof: Proof
    turning: float
    pivots: int
    about_turns: int
    returns: int
    foot_changes: int
    least_turning: float
    anchoring: Anchoring | None
    windows: tuple[Window, ...]
    loading: Loading | None
    fusing: Fusing | None
    thread: ThreadPlan
    tariff: Tariff
    times: tuple[RunTime, ...]
    needs: Needs
    rolls: Rolls | None
    checks: tuple[Check, ...]

    @property
    def name(self) -> str:  # type: ignore[override] # a field in its siblings
        """Of the quilt."""
        return self.top.name

    @property
    def outline(self) -> Polygon:  # type: ignore[override]
        """Finished edge, mm."""
        return self.top.outline

    @property
    def levels(self) -> tuple[float, ...]:
        """In a frame, where what is stitched in one window ends and the next goes on, mm.

        In y, or in x where it is loaded sideways.
        """
        return tuple(window.ends for window in self.windows[:-1])

    @property
    def sideways(self) -> bool:
        """Whether it is loaded into a frame with its left edge first."""
        return self.loading is not None and self.loading.way == "sideways"

    def thread_colours(self) -> dict[str, str]:
        """Tell the colour of each thread, which every picture draws it in."""
        return thread_colours(self.design)

    @cached_property
    def places(self) -> Places:
        """Words for the places of the top."""
        return Places(self.top)

    @cached_property
    def made(self) -> dict[object, object]:
        """What has been made of the plan, by the function that makes it (`once`)."""
        return {}

    @cached_property
    def totals(self) -> Totals:
        """Sums over all legs."""
        legs = [leg for run in self.runs for leg in run.legs]
        sums = {"stitch": 0.0, "retrace": 0.0, "travel": 0.0}
        for leg, length in zip(legs, path_lengths([leg.points for leg in legs]), strict=True):
            sums[leg.do] += float(length)
        groups = {(run.stage, run.thread) for run in self.runs}
        return Totals(
            sums["stitch"],
            sums["retrace"],
            sums["travel"],
            len(self.runs),
            len(self.runs) - len(groups),
        )


def once(make: Callable[Concatenate[Plan, _P], _T]) -> Callable[Concatenate[Plan, _P], _T]:
    """Keep what a function makes of a plan, for as long as the plan lives.

    Parameters
    ----------
    make
        A function of a plan, and of what else can be a key.
    """

    @wraps(make)
    def kept(plan: Plan, /, *args: _P.args, **named: _P.kwargs) -> _T:
        key = (make, args, *sorted(named.items()))
        if key not in plan.made:
            plan.made[key] = make(plan, *args, **named)
        return cast("_T", plan.made[key])

    return kept


def make_plan(
    design: Design,
    *,
    time_limit: float = _SECONDS,
    progress: Callable[[str, float, float], None] | None = None,
    now: Callable[[str], None] | None = None,
    looked: Survey | None = None,
    cures: bool = True,
) -> Plan:
    """Plan a design: top, lines, graphs, runs, thread, checks.

    Parameters
    ----------
    design
        From `load_design`.
    time_limit
        Seconds for the proofs of all stages and threads together, counted in work, not by the
        clock; 0 searches for none.
    progress
        Called now and then with stage and thread, cost and bound while the route is searched.
    now
        Called with what is being done.
    looked
        From `look_over`, where it is at hand: of this design, or one that differs in `route` only.
    cures
        Whether to find what would hold loose ground; each cure is planned too, to say what it
        takes.

    Returns
    -------
    Plan
        Lines, runs in stitching order with their proof, thread, times and checks. The same design
        gives the same plan on every machine.

    Raises
    ------
    StitchpathError
        When the design cannot be planned: one sentence that names its file and the place.
    InternalError
        When the bound found contradicts the route found.

    Examples
    --------
    >>> import stitchpath
    >>> design = stitchpath.load_design("designs/harbour-runner.toml")
    >>> plan = stitchpath.make_plan(design)
    >>> plan
    <Plan 'Harbour runner': 123 lines, 3 runs, cost 2910.6 s, bound 2828.6 s>
    >>> f"{plan.totals.stitched / 1000:.1f} m", plan.totals.breaks
    ('13.7 m', 1)
    """
    checked_limit(time_limit)
    try:
        now = now or _silent
        looked, plan = _make_plan(design, looked, time_limit, progress, now)
        now("looking for what could go wrong")
        extra = _extra(looked, plan if time_limit == _SECONDS else None) if cures else None
        found = check_plan(looked, plan.proof, extra)
        rolls = check_throat(_named(looked, plan.rolls), design.machine.throat, plan.top.unit)
        frame = (
            *check_loading(plan.loading, design.machine, plan.top.unit),
            *check_fusing(plan.fusing),
        )
        return replace(plan, checks=(*found, *rolls, *frame))
    except StitchpathError as error:
        raise error.told_of(design.source) from None
    except InternalError as error:
        raise InternalError(f"{design.source}: {error.what}") from None


def _silent(_: str) -> None:
    """Tell no one what is being done."""


def _make_plan(
    design: Design,
    looked: Survey | None,
    time_limit: float,
    progress: Callable[[str, float, float], None] | None,
    now: Callable[[str], None],
) -> tuple[Survey, Plan]:
    """Plan, and read the plan through; what does not hold is noded more coarsely and done again."""
    stitching_of(design)
    looked = looked or Survey.of(design, now)
    design = design.model_copy(update={"applique": looked.design.applique})
    now("finding lines and fills")
    now("joining lines where they meet")
    drawn, travelling = _drawn(design, looked)
    lines, ways = node_lines(drawn, looked.bits, travelling=travelling, pixel=_PIXELS[0])
    loading = None
    if design.machine.kind == "frame":
        loading = choose_loading(design, looked.top, lines, drawn)
        redrawn = _drawn_for(design, looked, loading)
        design = as_loaded(design, loading.way)
        if redrawn is not looked:
            looked = redrawn
            drawn, travelling = _drawn(design, looked)
            lines, ways = node_lines(drawn, looked.bits, travelling=travelling, pixel=_PIXELS[0])
    faults: tuple[str, ...] = ()
    for pixel in _PIXELS:
        if faults:
            now("joining lines where they meet")
            lines, ways = node_lines(drawn, looked.bits, travelling=travelling, pixel=pixel)
        windows = frame_windows(design, looked.top, lines, drawn)
        cut = cut_lines(lines, windows)
        if cut is not None:
            lines, ways = node_lines(cut, looked.bits, windows, travelling=travelling, pixel=pixel)
        fusing = fusing_of(design, looked.top, lines, windows)
        out = fusing is not None and fusing.way == "out of the frame"
        networks = build_networks(design, looked.top, lines, ways)
        networks = part_by_windows(networks, windows, lines, reloaded=out)
        now("searching the route")
        ironed = {(2, window) for window in fusing.windows.values()} if fusing else set()
        routed = _all_reached(design, looked, lines, networks, time_limit, progress, ironed)
        now("reckoning thread and time")
        plan = _put_together(design, looked, lines, routed, windows, loading, fusing)
        faults = faults_of(plan)
        if not faults:
            return looked, plan
    raise StitchpathError(
        f"found a plan that does not hold ({faults[0]}), expected one that does; this is a fault "
        "of the program, and no plan is made"
    )


def _drawn(design: Design, looked: Survey) -> tuple[list[Line], set[tuple[int, str]] | None]:
    """Give the lines before they are noded, and in a frame who may go along seams.

    There a line is one across all seams that no one goes along: it fits a window, or not.
    """
    if design.machine.kind != "frame":
        return list(looked.lines), None
    travelling = travelling_groups(design, looked.lines)
    return numbered_units(looked.lines, looked.bits, travelling), travelling


def _drawn_for(design: Design, looked: Survey, loading: Loading) -> Survey:
    """Draw fills that wander anew, where they were drawn for the other way to load it."""
    drawn_for = "sideways" if design.machine.sideways else "lengthwise"
    wander = any(asked.style in FREE for asked in design.fills)
    if loading.way == drawn_for or not (wander and loading.windows):
        return looked
    return looked.changed(as_loaded(design, loading.way))


def _all_reached(
    design: Design,
    looked: Survey,
    lines: Sequence[Line],
    networks: Sequence[Network],
    time_limit: float,
    progress: Callable[[str, float, float], None] | None,
    ironed: Container[tuple[int, int]],
) -> list[Routed]:
    """Route all; a line that no run may reach is told by its place."""
    try:
        return _route_all(design, looked.top, lines, networks, time_limit, progress, ironed)
    except UnreachedError as error:
        if error.line < 0:
            raise
        place = looked.words.subject(lines[error.line].of)
        raise UnreachedError(error.line, place) from None


def _put_together(
    design: Design,
    looked: Survey,
    lines: Sequence[Line],
    routed: Sequence[Routed],
    windows: tuple[Window, ...],
    loading: Loading | None,
    fusing: Fusing | None,
) -> Plan:
    """Make the plan of what has been routed: thread, times, needs; checks come last."""
    stitching, top = stitching_of(design), looked.top
    runs = joined(routed)
    thread = plan_thread(runs, lines, stitching)
    tariff = tariff_of(design, top, lines)
    times = run_times(runs, lines, thread=thread, tariff=tariff, fusing=fusing)
    moves = moves_of(runs, lines, tariff)
    proof = Proof(
        sum(r.proof.cost for r in routed),
        sum(r.proof.lower_bound for r in routed),
        all(r.proof.optimal for r in routed),
        any(r.proof.cut_off for r in routed),
        "s" if design.priced_by == "time" else "mm",
        sum(r.proof.cost if r.proof.free is None else r.proof.free for r in routed)
        if any(r.proof.free is not None for r in routed)
        else None,
    )
    rolls = _rolls(looked, runs, lines, tariff)
    return Plan(
        design=design,
        top=top,
        lines=tuple(lines),
        runs=runs,
        proof=proof,
        turning=sum(r.turning.total for r in routed),
        pivots=moves.pivots,
        about_turns=moves.about_turns,
        returns=moves.returns,
        foot_changes=moves.feet,
        least_turning=sum(r.turning.bound for r in routed),
        anchoring=_anchoring(routed),
        windows=windows,
        loading=loading,
        fusing=fusing,
        thread=thread,
        tariff=tariff,
        times=times,
        needs=needs_of(design, top.width, top.height, stitching, thread.uses, times),
        rolls=rolls,
        checks=(),
    )


def _rolls(
    looked: Survey, runs: Sequence[Run], lines: Sequence[Line], tariff: Tariff
) -> Rolls | None:
    """Measure the rolls, where the throat is known that they have to go through."""
    machine = looked.design.machine
    if machine.throat is None or machine.kind == "frame":
        return None
    way = leg_arrays(runs, lines)
    areas = rolls_of_areas(runs, way, tariff)
    named = tuple((tariff.areas.of[k - 1], roll) for k, roll in areas.items())
    return Rolls(rolls_of_runs(runs, way, tariff), named)


def _named(looked: Survey, rolls: Rolls | None) -> list[tuple[str, Roll]]:
    """Give runs and areas their names."""
    if rolls is None:
        return []
    runs = [(f"Run {k}", roll) for k, roll in enumerate(rolls.runs, 1)]
    return runs + [(looked.words.subject(area), roll) for area, roll in rolls.areas]


def _route_all(
    design: Design,
    top: Top,
    lines: Sequence[Line],
    networks: Sequence[Network],
    time_limit: float,
    progress: Callable[[str, float, float], None] | None,
    ironed: Container[tuple[int, int]] = (),
) -> list[Routed]:
    """Route every stage, window and thread in order, each with its share of the time."""
    centre = (top.outline.centroid.x, top.outline.centroid.y)
    corner = (0.0, top.height if design.machine.sideways else 0.0)
    # A frame holds the layers together, so nothing has to be anchored first.
    small = min(top.width, top.height) < _LARGE or networks[0].window > 0
    mixed = small or design.route.order == "free"
    anchor = design.route.anchor or ("mixed" if mixed else "first")
    order: Order = "anchors" if anchor == "first" else "free"
    order = "taught" if design.in_taught_order else order
    # Shares of the work left go by size, not by the clock: the same design gives the same plan.
    effort = Effort(time_limit)
    left = sum(int(network.required.sum()) for network in networks)
    routed: list[Routed] = []
    rows = [_rows_asked(design, network, lines) for network in networks]
    parks = _parks(networks, lines, order, ironed) if not any(rows) else [Parked()] * len(networks)
    for k, network in enumerate(networks):
        tell = None
        if progress is not None:
            label = f"stage {network.stage}, {network.thread}"
            label += f", pass {network.window}" if network.window else ""

            def tell(cost: float, bound: float, label: str = label) -> None:
                progress(label, cost, bound)

        size = int(network.required.sum())
        routes = partial(
            route,
            lines=lines,
            centre=_hands(routed, corner) if network.window else centre,
            first_number=sum(len(r.runs) for r in routed) + 1,
            order=rows[k] or order,
            start=_start(design, top, network) if k == 0 and design.route.start else None,
            effort=effort.part(size / left),
            progress=tell,
        )
        try:
            routed += route_parked(network, parks[k], routes, routed[-1] if routed else None)
        except NoRowsError as error:
            raise StitchpathError(f"fills[{min(_fills(network, lines)) + 1}].{error}") from None
        left -= size
    return routed


def _rows_asked(design: Design, network: Network, lines: Sequence[Line]) -> AsAsked | None:
    """Tell how rows are stitched, where that is asked of all that a pass stitches."""
    asked = {
        k: AS_ASKED.get(design.fills[k].rows) if k >= 0 else None
        for k in sorted(_fills(network, lines))
    }
    found = [(k, how) for k, how in asked.items() if how is not None]
    if not found:
        return None
    first, how = found[0]
    if len(set(asked.values())) > 1:
        raise StitchpathError(
            f"fills[{first + 1}].rows: found other lines on the same thread, expected a thread of "
            "its own, so that they can be stitched row by row"
        )
    return how


def _fills(network: Network, lines: Sequence[Line]) -> set[int]:
    """Tell which fills a pass stitches; -1 for what is none."""
    return {lines[i].of.fill for i in network.line[network.required].tolist()}


def _parks(
    networks: Sequence[Network],
    lines: Sequence[Line],
    order: Order,
    ironed: Container[tuple[int, int]],
) -> list[Parked]:
    """Choose where the needle is parked, in a frame and where runs may come in any order."""
    ordered = order == "taught" and not all(network.passing.free for network in networks)
    if not networks[0].window or order == "anchors" or ordered:
        return [Parked()] * len(networks)
    return choose_parked(networks, lines, ironed)


def _hands(routed: Sequence[Routed], corner: tuple[float, float]) -> tuple[float, float]:
    """Tell where the last run ended; before the first, the corner at her left as it is loaded."""
    if not routed:
        return corner
    x, y = routed[-1].runs[-1].legs[-1].points[-1].tolist()
    return x, y


def _anchoring(routed: Sequence[Routed]) -> Anchoring | None:
    first = [r for r in routed if r.anchoring]
    if not first:
        return None
    return Anchoring(sum(len(r.runs) for r in first), sum(r.proof.cost - r.once for r in first))


def _start(design: Design, top: Top, network: Network) -> int:
    """Find the vertex that the design asks the first run to begin at."""
    asked = design.route.start or ""
    corner_at = _corner_called(top, asked)
    if corner_at is None:
        raise StitchpathError(
            f"route.start: found {asked[:40]!r}, expected a corner of a block, such as "
            '"A1 top left"'
        )
    away = np.hypot(*(network.points - corner_at).T)
    nearest = int(np.argmin(away))
    down = axis_of(design.machine)
    if network.window and corner_at[down] > network.points[:, down].max() + SAME_PLACE:
        far = format_length(float(network.points[:, down].max()), top.unit)
        raise StitchpathError(
            f"route.start: found the corner {asked!r}, expected one in what the frame shows "
            f"first, not more than {far} from the {'top' if down else 'left'} edge"
        )
    if away[nearest] > SAME_PLACE:
        raise StitchpathError(
            f"route.start: found no line that passes the corner {asked!r}, expected one where a "
            "run can begin"
        )
    return nearest


def _corner_called(top: Top, asked: str) -> FloatArray | None:
    """Find the corner of a block, or of a drawn patch, by its name; None where none is so."""
    asked = " ".join(asked.split())
    for block in (*top.blocks, *top.compounds):
        if not asked.startswith(block.place.name):
            continue
        low, high = block.corners.min(axis=0), block.corners.max(axis=0)
        for down, y in (("top", low[1]), ("bottom", high[1])):
            for across, x in (("left", low[0]), ("right", high[0])):
                if asked == f"{block.place.name} {down} {across}":
                    return np.array([x, y])
    for patch in top.patches if top.taken else ():
        left, upper, right, lower = patch.polygon.bounds
        for down, y in (("top", upper), ("bottom", lower)):
            for across, x in (("left", left), ("right", right)):
                if asked == f"{patch.name} {down} {across}" and patch.part != "block":
                    return np.array([x, y])
    return None


def lines_of(design: Design) -> tuple[Top, list[Line]]:
    """Build the top and its lines, without a route.

    Raises
    ------
    StitchpathError
        As `make_plan`.
    """
    try:
        looked = Survey.of(design)
        return looked.top, list(looked.lines)
    except StitchpathError as error:
        raise error.told_of(design.source) from None


def look_over(design: Design, now: Callable[[str], None] | None = None) -> Survey:
    """Build a design's top and lines, and see where more could be stitched.

    Parameters
    ----------
    design
        The design.
    now
        Called with what is being done.

    Raises
    ------
    StitchpathError
        As `make_plan`.
    """
    try:
        stitching_of(design)
        return survey(design, now)
    except StitchpathError as error:
        raise error.told_of(design.source) from None


def check_design(design: Design, found: Survey | None = None) -> tuple[Check, ...]:
    """Look over a design, without a route, and say how loose ground is held most cheaply.

    Parameters
    ----------
    design
        The design.
    found
        From `look_over`, where it is at hand.

    Raises
    ------
    StitchpathError
        As `make_plan`.
    """
    looked = found or look_over(design)
    try:
        return check_plan(looked, None, _extra(looked))
    except StitchpathError as error:
        raise error.told_of(design.source) from None


def _takes(plan: Plan) -> Taken:
    """Sum what a plan takes: thread with its waste, and time."""
    thread = sum(use.total for use in plan.thread.uses)
    return thread, float(sum(spent.total for spent in plan.times))


def _extra(looked: Survey, plan: Plan | None = None) -> Callable[[Survey], Taken | None]:
    """Give what plans a design with a cure and says what it takes beyond the design.

    Where that takes long, it is left out. The design is planned for it where there is something to
    cure, so check and plan say the same.
    """
    base = [] if plan is None else [plan]

    def extra(cured: Survey) -> Taken | None:
        # A cure only adds lines: of a large quilt those of the cure need not be laid.
        if len(looked.lines) > _SOON or len(cured.lines) > _SOON:
            return None
        try:
            if not base:
                base.append(_make_plan(looked.design, looked, _SECONDS, None, _silent)[1])
            _, plan = _make_plan(cured.design, cured, _SECONDS, None, _silent)
        except StitchpathError:  # the cure is told all the same
            return None
        thread, seconds = (b - a for a, b in zip(_takes(base[0]), _takes(plan), strict=True))
        return (thread, seconds) if min(thread, seconds) > 0 else None

    return extra


def _xy(points: FloatArray) -> list[list[float]]:
    listed: list[list[float]] = np.round(points, 3).tolist()
    return listed


def _xys(paths: Sequence[FloatArray]) -> Iterator[list[list[float]]]:
    """Round many paths at one go."""
    listed = _xy(np.concatenate(paths or [np.empty((0, 2))]))
    begin = 0
    for path in paths:
        yield listed[begin : begin + len(path)]
        begin += len(path)


def plan_json(plan: Plan) -> str:
    """Write a plan as JSON of the format stitchpath-plan/1, one line or run to a line of text."""
    top = plan.top
    head = {
        "format": FORMAT,
        "name": top.name,
        "unit": top.unit,
        "lengths": "mm",
        "quilt": {
            "width": round(top.width, 3),
            "height": round(top.height, 3),
            "outline": _xy(np.array(top.outline.exterior.coords)),
        },
        "margin": plan.design.batting.margin,
        **({"windows": _xy(np.array(plan.windows)[:, :3])} if plan.windows else {}),
        **({"loaded": plan.loading.way} if plan.loading else {}),
    }
    lists = {
        "lines": [
            _line_json(f"L{i + 1}", line, plan.places.subject(line.of), points)
            for i, (line, points) in enumerate(
                zip(plan.lines, _xys([line.points for line in plan.lines]), strict=True)
            )
        ],
        "runs": [
            _run_json(run, thread, spent, roll)
            for run, thread, spent, roll in zip(
                plan.runs,
                plan.thread.runs,
                plan.times,
                plan.rolls.runs if plan.rolls else [None] * len(plan.runs),
                strict=True,
            )
        ],
        "thread": [
            {"name": u.name, "top": u.top, "bobbin": u.bobbin, "bobbins": u.bobbins,
             "waste": u.waste}
            for u in plan.thread.uses
        ],
        "bobbin_changes": [_change_json(plan, change) for change in plan.thread.changes],
        "to_buy": [
            {"thread": p.thread, "need": p.need,
             "spools": [{"metres": metres, "count": n} for metres, n in p.spools]}
            for p in plan.needs.spools
        ],
        "checks": [
            {"level": c.level, "code": c.code, "message": c.message,
             "at": c.at and [round(v, 3) for v in c.at]}
            for c in plan.checks
        ],
    }  # fmt: skip
    if plan.rolls:
        lists["areas"] = [
            {"place": plan.places.subject(area), "roll": _roll_json(roll)}
            for area, roll in plan.rolls.areas
        ]
    t = plan.totals
    totals = {
        "stitched": round(t.stitched, 3),
        "retraced": round(t.retraced, 3),
        "travelled": round(t.travelled, 3),
        "runs": t.runs,
        "breaks": t.breaks,
        "turning": round(plan.turning, 1),
        "pivots": plan.pivots,
        "returns": plan.returns,
        "foot_changes": plan.foot_changes,
        "stitches": sum(use.stitches for use in plan.thread.uses),
        "seconds": sum(spent.total for spent in plan.times),
    }
    proof = {
        "unit": plan.proof.unit,
        "cost": round(plan.proof.cost, 3),
        "lower_bound": round(plan.proof.lower_bound, 3),
        "optimal": plan.proof.optimal,
        "cut_off": plan.proof.cut_off,
        **({} if plan.proof.free is None else {"free": round(plan.proof.free, 3)}),
    }
    return "".join(
        _text({**head, **lists, "cloth": _cloth_json(plan), "totals": totals, "proof": proof})
    )


def _cloth_json(plan: Plan) -> dict[str, object]:
    """Write what to cut, and the bill if there is one."""
    cut, back, bill = plan.needs.batting, plan.needs.backings[0], plan.needs.bill
    return {
        "batting": {"width": round(cut.width, 3), "height": round(cut.height, 3)},
        "backing": {"way": back.way, "lengths": back.lengths, "length": round(back.length, 3),
                    "fabric": round(back.fabric, 3)},
        "bill": bill and {
            "currency": bill.currency,
            "lines": [{"what": line.what, "amount": str(line.amount)} for line in bill.lines],
            "total": str(bill.total),
        },
    }  # fmt: skip


def _change_json(plan: Plan, change: BobbinChange) -> dict[str, object]:
    """Write where a bobbin is changed, and where it would have given out."""
    return {
        "thread": change.thread,
        "bobbin": change.bobbin,
        "where": change.where,
        "stop": _place_json(plan, change.stop),
        "gives_out": change.gives_out and _place_json(plan, change.gives_out),
        "waste": change.waste,
    }


def _place_json(plan: Plan, place: RunPoint) -> dict[str, object]:
    sewn = plan.places.subject(plan.lines[place.line].of) if place.line >= 0 else ""
    return {
        "run": place.run,
        "along": round(place.along, 3),
        "point": [round(v, 3) for v in place.point],
        "place": sewn,
    }


def _text(data: Mapping[str, Any]) -> Iterator[str]:
    dump = json.JSONEncoder(ensure_ascii=False, allow_nan=False, separators=(", ", ": ")).encode
    for k, (key, value) in enumerate(data.items()):
        yield ",\n" if k else "{\n"
        if isinstance(value, list):
            yield f"{dump(key)}: [\n" + ",\n".join(map(dump, value)) + "\n]"
        else:
            yield f"{dump(key)}: {dump(value)}"
    yield "\n}\n"


def _line_json(name: str, line: Line, place: str, points: list[list[float]]) -> dict[str, object]:
    return {
        "id": name,
        "kind": line.kind,
        "stage": line.stage,
        "thread": line.thread,
        "place": place,
        "low": {-1: "left", 0: None, 1: "right"}[line.low],
        "points": points,
    }


def _roll_json(roll: Roll) -> dict[str, object]:
    return {
        "width": round(roll.width, 3),
        "thick": round(roll.thick, 3),
        "side": roll.side,
        "at": [round(v, 3) for v in roll.at],
        "turned": round(roll.turned, 3),
    }


def _run_json(run: Run, thread: RunThread, spent: RunTime, roll: Roll | None) -> dict[str, object]:
    legs: list[dict[str, object]] = []
    for leg, points in zip(run.legs, _xys([leg.points for leg in run.legs]), strict=True):
        what = {"along": leg.along} if leg.do == "travel" else {"line": f"L{leg.line + 1}"}
        legs.append({"do": leg.do, **what, "points": points})
    start, end = run.legs[0].points[:1], run.legs[-1].points[-1:]
    return {
        "number": run.number,
        "stage": run.stage,
        "thread": run.thread,
        **({"window": run.window} if run.window else {}),
        **({"parked": [{"leg": k, "window": n} for k, n in run.parked]} if run.parked else {}),
        "start": {"point": _xy(start)[0], "where": run.start_where},
        "end": {"point": _xy(end)[0], "where": run.end_where},
        "stitches": thread.stitches,
        "top": thread.top,
        "bobbin": thread.bobbin,
        "seconds": spent.total,
        **({"roll": _roll_json(roll)} if roll else {}),
        "legs": legs,
    }
