"""Thread, bobbins, time, batting, backing; checks and cautions."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from stitchpath.base.marks import PLAIN
from stitchpath.base.units import MM_PER, format_spools, long_unit
from stitchpath.export.guide.cover import clock_words, to_buy
from stitchpath.export.guide.path import Scene
from stitchpath.export.pdf.letters import POINT, Face, broken, shortened, typeset
from stitchpath.export.pdf.page import Flow, section
from stitchpath.export.pdf.paper import Paper
from stitchpath.export.pdf.sheet import GREY, INK, Box, Sheet
from stitchpath.plan import Plan
from stitchpath.thread import BobbinChange
from stitchpath.told.card_words import Pages, spot_words
from stitchpath.told.job_rows import job_rows
from stitchpath.told.pass_sheets import pass_sheets
from stitchpath.told.stops import stitch_words, stops
from stitchpath.told.summary import promise

__all__ = ["supply_pages"]

_SIZES = (10.0, 9.6, 9.2, 8.8)  # points: the largest that takes no page more
_MOST_ROWS = 12
_MOST_STOPS = 12
_TWO = 150.0  # mm: so wide a page has two columns
_GUTTER = 6.0

CAUTIONS = """\
Your machine's manual, and the rules of the place where it stands, come before anything here.
**Needle.** Keep fingers, hair and sleeves clear of it while it moves. Take your foot off the \
pedal, or switch the machine off, before you thread it or change the needle or the bobbin. A \
needle can break: wear glasses.
**Pins.** Take each one out before the needle comes to it, and count them back into their box.
**Rotary cutter.** Close the blade each time you put it down. Cut away from yourself, with your \
fingers off the edge of the ruler.
**Iron.** It stays hot long after it is switched off. Mind the steam, follow the instructions of \
the fusible web, and never leave it on its face.
**You.** A good light, a straight back and a pause every half hour. Keep children and animals \
away from needle, blade and iron.""".splitlines()
FRAME_CAUTION = (
    "**Frame.** Keep hands and others clear of the carriage and its rails while the machine moves."
)


def supply_pages(scene: Scene, paper: Paper, pages: Pages | None = None) -> Iterator[Sheet]:
    """Set what is needed, what was checked and what to mind; `pages` tells where cards stand.

    The cautions stay together at the end, so that no sheet is spent on a line or two.
    """
    flows = [_set(scene, paper, pages or {}, size) for size in _SIZES]
    yield from min(flows, key=lambda flow: len(flow.pages)).pages


def _set(scene: Scene, paper: Paper, pages: Pages, size: float) -> "_Flow":
    """Set them in letters of a size, points."""
    plan = scene.plan
    flow = _Flow(paper, "Stops, thread, time", size, plan.thread_colours())
    _stops(flow, plan)
    _threads(flow, plan)
    _bobbins(flow, plan, pages)
    _time(flow, plan)
    _cloth(flow, plan)
    _checks(flow, plan)
    _cautions(flow, plan)
    return flow


@dataclass
class _Flow(Flow):
    """Sections one below another, pages as they are needed.

    Attributes
    ----------
    size
        Of the letters, points.
    chips
        The colour of each thread by its name.
    """

    size: float
    chips: Mapping[str, str]

    def __post_init__(self) -> None:
        """Begin with a page."""
        self.row = 0.5 * self.size  # mm
        self.page()

    def section(self, title: str, below: float) -> None:
        """Write a section's heading where there is room for it and the first of what follows."""
        if self.y + 12 + below > self.room.bottom:
            self.page()
        elif self.y > self.room.top:
            self.y += 0.28 * self.size
        self.y = section(self.pages[-1], (self.room.left, self.y), self.room.width, title) + 1.0

    def columns(self, groups: Sequence[Sequence[tuple[str, bool]]]) -> None:
        """Write groups of paragraphs in two columns where the page is wide, a group in one of them.

        Each paragraph comes with whether a box to tick stands before it.
        """
        many = 2 if self.room.width > _TWO and len(groups) > 1 else 1
        wide = (self.room.width - _GUTTER * (many - 1)) / many
        highs = [sum(self._high(text, wide, tick=tick) for text, tick in g) + 1 for g in groups]
        if self.y + max(highs, default=0.0) > self.room.bottom:
            self.page()
        tops = [self.y] * many
        for group, high in zip(groups, highs, strict=True):
            k = tops.index(min(tops))
            if tops[k] + high > self.room.bottom and tops[k] > self.room.top:
                self.page()
                tops = [self.y] * many
                k = 0
            left = self.room.left + k * (wide + _GUTTER)
            for text, tick in group:
                tops[k] = self._paragraph(text, (left, tops[k]), wide, tick=tick)
            tops[k] += 1
        self.y = max(tops)

    def _high(self, text: str, wide: float, *, tick: bool) -> float:
        lines = len(broken(text, wide - 5.0 * tick, self.size))
        return lines * self.size * 1.22 * POINT + 0.5

    def _paragraph(self, text: str, at: tuple[float, float], wide: float, *, tick: bool) -> float:
        """Write a paragraph, with a box to tick before it; give where it ends."""
        sheet, (left, top) = self.pages[-1], at
        if tick:
            x, y = left + 0.8, top + 0.09 * self.size
            sheet.rectangle(Box(x, y, x + 2.6, y + 2.6), None, edge=INK, width=0.2)
        indent = 5.0 * tick
        return sheet.paragraph((left + indent, top), wide - indent, text, self.size) + 0.5

    def text(self, text: str, *, mark: str = "") -> None:
        """Write a paragraph, with a mark before it."""
        indent = 5.0 if mark else 0.0
        width = self.room.width - indent
        high = self.height(text, indent)
        if self.y + high > self.room.bottom:
            self.page()
        sheet = self.pages[-1]
        if mark:
            sheet.write((self.room.left + 1, self.y + 3.4), mark, self.size, "bold", colour=GREY)
        self.y = sheet.paragraph((self.room.left + indent, self.y), width, text, self.size) + 0.9

    def height(self, text: str, indent: float) -> float:
        """Height of a paragraph, mm."""
        lines = len(broken(text, self.room.width - indent, self.size))
        return lines * self.size * 1.22 * POINT

    def table(
        self, header: Sequence[str], rows: Sequence[Sequence[str]], widths: Sequence[float]
    ) -> None:
        """Write a table; widths are shares, negative where a column is flush right."""
        shown = rows[:_MOST_ROWS]
        self._line(header, widths, head=True)
        names = header.index("thread") if "thread" in header else -1
        for row in shown:
            if self.y + self.row > self.room.bottom:
                self.page()
                self._line(header, widths, head=True)
            self._line(row, widths, names=names)
        if len(rows) > len(shown):
            self.text(f"{len(rows) - len(shown)} more rows are on the job sheet.")

    def _line(
        self,
        cells: Sequence[str],
        widths: Sequence[float],
        *,
        head: bool = False,
        names: int = -1,
    ) -> None:
        """Write a row of a table; `names` is the column that names threads, each with its chip."""
        sheet, left = self.pages[-1], self.room.left
        scale = self.room.width / sum(map(abs, widths))
        face: Face
        face, size, colour = ("italic", 9.0, GREY) if head else ("text", self.size, INK)
        for k, (cell, share) in enumerate(zip(cells, widths, strict=True)):
            wide = abs(share) * scale
            at = left + wide - 1 if share < 0 else left
            if k == names:
                at += sheet.chip((at, self.y + 3.6), self.chips.get(cell, PLAIN))
            text = shortened(
                typeset(cell), left + wide - at - 2 if share > 0 else wide - 2, size, face
            )
            sheet.write(
                (at, self.y + 3.6), text, size, face, colour=colour,
                align="right" if share < 0 else "left",
            )  # fmt: skip
            left += wide
        self.y += self.row
        if head:
            sheet.rule(self.room.left, self.room.right, self.y - 0.2)
            self.y += 0.6


def _far(length: float, plan: Plan) -> str:
    long = long_unit(plan.top.unit)
    return f"{length / MM_PER[long]:.1f} {long}"


def _stops(flow: _Flow, plan: Plan) -> None:
    """Tell what is done at each stop that has more than threads cut, with boxes to tick.

    What the sheet of a pass tells stands there.
    """
    by_sheet = {told.begins for told in pass_sheets(plan)[1:]}
    shown = [
        stop
        for stop in stops(plan)
        if not stop.plain and not (stop.rolls and (stop.run, stop.leg) in by_sheet)
    ]
    if not shown:
        return
    flow.columns(  # under the title of the page, which tells of them first
        [
            [(f"**{stop.heading}**", False), *((t, True) for t in stop.but("end", "roll", "test"))]
            for stop in shown[:_MOST_STOPS]
        ]
    )
    if len(shown) > _MOST_STOPS:
        flow.text(f"{len(shown) - _MOST_STOPS} more stand in the directions and on the job sheet.")


def _threads(flow: _Flow, plan: Plan) -> None:
    flow.section("Thread and bobbins", 30)
    header = ("thread", "runs", "sewn", "top", "bobbin", "waste", "bobbins")
    rows = [
        (use.name, f"{use.runs}", *(_far(v, plan) for v in (use.seam, use.top, use.bobbin,
                                                          use.waste)), f"{use.bobbins}")
        for use in plan.thread.uses
    ]  # fmt: skip
    if flow.room.width > _TWO:
        flow.table(header, rows, (48, -10, -18, -18, -18, -18, -16))
    else:
        for name, *figures in rows:
            pairs = zip(header[1:], figures, strict=True)
            flow.text(f"**{name}**: {', '.join(f'{what} {figure}' for what, figure in pairs)}")
    flow.y += 1.0
    for bought in plan.needs.spools:
        spools = format_spools(bought.spools, plan.top.unit)
        flow.text(
            f"**Buy {bought.thread}**, top and bobbin: {spools}; "
            f"{to_buy(bought.need, plan.top.unit)} are needed, waste and all.",
            mark="–",  # noqa: RUF001
        )
    kinds = ", ".join(
        f"{name} {spec.size} {spec.fibre}" for name, spec in plan.design.threads.items()
    )
    per, unit = plan.design.stitching.per_inch, plan.top.unit
    stitches = (
        stitch_words(per / MM_PER["in"], unit)
        if isinstance(per, float)
        else ", ".join(f"{stitch_words(n / MM_PER['in'], unit)} for {k}" for k, n in per.items())
    )
    bobbin = plan.design.stitching.bobbin
    flow.text(
        f"Reckoned with {stitches}; bobbin: {bobbin}"
        + (f"; threads: {kinds}." if kinds else ".")
        + " Sew a sample first: it tells your own tension, stitch and thread better than any sum."
    )


def _bobbins(flow: _Flow, plan: Plan, pages: Pages) -> None:
    if not plan.thread.changes:
        flow.text("One bobbin of each thread lasts to the end.")
        return
    flow.text(
        "Wind them all beforehand. Each is changed at the last good place before it would run out: "
        "the end of a run, the margin, or a turn in a seam, where the ends hide."
    )
    order = sorted(plan.thread.changes, key=lambda c: (c.stop.run, c.stop.along))
    for change in order[:_MOST_ROWS]:
        flow.text(_change(change, plan, pages), mark="–")  # noqa: RUF001
    if len(order) > _MOST_ROWS:
        flow.text(f"{len(order) - _MOST_ROWS} more changes are on the job sheet.")


def _change(change: BobbinChange, plan: Plan, pages: Pages) -> str:
    dry = change.gives_out
    rest = ""
    if dry is not None:
        far = dry.along - change.stop.along if dry.run == change.stop.run else dry.along
        later = "" if dry.run == change.stop.run else f", in run {dry.run}"
        rest = f"; it would run out {_far(max(far, 0.0), plan)} further on{later}"
    where = spot_words(plan, change.stop.run, change.stop.leg, pages)
    at = {
        "run end": f"at the end of run {change.stop.run}",
        "margin": f"in the margin, {where}",
        "pivot": f"at a turn, {where}",
        "line": f"in mid seam, {where}: secure both ends",
    }[change.where]
    return f"**{change.thread}**: put in bobbin {change.bobbin + 1} {at}{rest}."


def _time(flow: _Flow, plan: Plan) -> None:
    flow.section("Time at the machine", 12)
    rows = [
        (row.what, clock_words(row.seconds or 0)) for row in job_rows(plan) if row.kind == "time"
    ]
    total = clock_words(sum(spent.total for spent in plan.times))
    parts = ", ".join(f"{what} {time}" for what, time in rows)
    easy = "An easy pace; time yourself on a run and scale it."
    proven = f" {_promise(plan)}" if plan.proof.optimal else ""  # else a check says how good
    flow.text(f"**{total}** in all: {parts}. {easy}{proven}")


def _promise(plan: Plan) -> str:
    """Say that the route is proven."""
    at_prices = "at these prices " if plan.proof.unit == "mm" else ""
    return f"Proven: {at_prices}{promise(plan.proof)}."


def _cloth(flow: _Flow, plan: Plan) -> None:
    flow.section("Batting and backing", 12)
    rows = [row for row in job_rows(plan) if row.kind in ("batting", "backing", "charge")]
    flow.text(
        " ".join(f"**{r.kind.capitalize()}**: {r.note[:1].lower()}{r.note[1:]}." for r in rows)
    )


def _checks(flow: _Flow, plan: Plan) -> None:
    flow.section("Checks", 12)
    if not plan.checks:
        flow.text("Nothing was found that could go wrong: pressing, seams, pieces and route.")
    words = {"error": "Mend first", "warning": "Mind", "note": "Note"}
    for check in plan.checks[:_MOST_ROWS]:
        flow.text(f"**{words[check.level]}**: {check.message}", mark="–")  # noqa: RUF001
    if len(plan.checks) > _MOST_ROWS:
        flow.text(f"{len(plan.checks) - _MOST_ROWS} more: stitchpath check lists them all.")


def _cautions(flow: _Flow, plan: Plan) -> None:
    frame = (FRAME_CAUTION,) if plan.design.machine.kind == "frame" else ()
    fused = plan.top.pieces
    cautions = [text for text in CAUTIONS if fused or not text.startswith("**Iron")] + [*frame]
    high = sum(flow.height(text, 0.0) + 0.9 for text in cautions)
    high *= 0.6 if flow.room.width > _TWO else 1.0
    flow.section("Cautions", min(high, flow.room.height - 20))
    flow.columns([[(caution, False)] for caution in cautions])
