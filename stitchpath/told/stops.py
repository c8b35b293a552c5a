"""Where she stops the machine, and all there is to do there: values, made once for a plan."""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias

from stitchpath.base.typing import Where
from stitchpath.base.units import MM_PER, Unit, format_count, format_thread
from stitchpath.geometry.polylines import path_lengths
from stitchpath.lines.applique import stage_of
from stitchpath.plan import Plan, once, stitching_of
from stitchpath.route.runs import Run
from stitchpath.thread import BobbinChange
from stitchpath.told.directions import teller_of
from stitchpath.told.feet import feet_put_on, foot_words
from stitchpath.told.passes import parked_words, rolling_words
from stitchpath.top.place_names import join_words

__all__ = ["Stop", "Task", "stitch_words", "stops", "stops_by_run"]

What: TypeAlias = Literal[
    "end", "off", "trim", "pins", "fuse", "cool", "layer", "roll", "thread", "bobbin", "stitch",
    "foot", "test", "go", "finish",
]  # fmt: skip
"""What a task is about, in the order in which things are done."""


@dataclass(frozen=True, slots=True)
class Task:
    """One thing to do at a stop.

    Attributes
    ----------
    what
        What it is about.
    text
        A whole sentence.
    """

    what: What
    text: str


@dataclass(frozen=True, slots=True)
class Stop:
    """A place where the machine stands, and what is done before it sews on.

    Attributes
    ----------
    kind
        "start" before the first run, "run" between two runs, "bobbin" and "park" within a run,
        "end" after the last.
    run
        Number of the run that it comes before; within a run, and at the end, of that run.
    leg
        Index of the leg that it lies in.
    along
        Distance stitched since that run began, mm.
    title
        What is done there, in a line.
    tasks
        In the order in which they are done.
    fuse
        Pieces that are fused there, by number.
    """

    kind: Literal["start", "run", "bobbin", "park", "end"]
    run: int
    leg: int
    along: float
    title: str
    tasks: tuple[Task, ...]
    fuse: tuple[int, ...] = ()

    @property
    def plain(self) -> bool:
        """Whether there is no more to do than to cut the threads and go on.

        Changes of bobbin within runs are listed by themselves.
        """
        return self.kind == "bobbin" or all(t.what in ("end", "off", "go") for t in self.tasks)

    @property
    def rolls(self) -> bool:
        """Whether the quilt is rolled on there and no more: the sheet of the pass tells it all."""
        return all(task.what in ("end", "off", "roll", "bobbin", "go") for task in self.tasks)

    def but(self, *told: What) -> list[str]:
        """List in words what is done there, but for what is told elsewhere."""
        return [task.text for task in self.tasks if task.what not in told]

    @property
    def heading(self) -> str:
        """Where it is and what is done there, as in "Before run 2: fuse 2 pieces"."""
        where = {
            "start": "Before you begin",
            "run": f"Before run {self.run}",
            "bobbin": f"In run {self.run}",
            "park": f"In run {self.run}",
            "end": f"After run {self.run}",
        }[self.kind]
        return f"{where}: {self.title}"


@once
def stops(plan: Plan) -> tuple[Stop, ...]:
    """Tell every stop of a plan.

    Parameters
    ----------
    plan
        The plan.

    Returns
    -------
    tuple of Stop
        In stitching order: one before the first run, one between any two, one at each change of
        bobbin within a run and where the needle is parked, one after the last. A plan without runs
        has none.
    """
    return tuple(_Stops(plan).all())


@once
def stops_by_run(plan: Plan) -> dict[int, tuple[Stop, ...]]:
    """Sort the stops by the run that they come before or lie in."""
    found: dict[int, list[Stop]] = defaultdict(list)
    for stop in stops(plan):
        found[stop.run].append(stop)
    return {run: tuple(some) for run, some in found.items()}


class _Stops:
    """Goes through the runs with what is on the machine and what is on the quilt."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.stitching = stitching_of(plan.design)
        self.rolling = rolling_words(plan)
        self.parked = parked_words(plan)
        self.framed = plan.design.machine.kind == "frame"
        self.windows = plan.fusing.windows if plan.fusing else {}
        self.within = plan.fusing is not None and plan.fusing.way == "in the frame"
        self.teller = teller_of(plan)
        self.waiting: dict[int, list[int]] = defaultdict(list)  # pieces not fused yet, by stage
        for piece in plan.top.pieces:
            self.waiting[stage_of(piece.asked)].append(piece.number)
        self.loaded = ""  # the thread on the bobbin in the machine
        self.bobbins: dict[str, int] = {}  # which bobbin of a thread is in use, from 1
        self.used: set[tuple[str, int]] = set()
        self.stitch = 0.0  # stitches per mm that the machine is set to
        self.changes: dict[int, list[BobbinChange]] = defaultdict(list)
        for change in sorted(plan.thread.changes, key=lambda c: (c.stop.run, c.stop.along)):
            self.changes[change.stop.run].append(change)

    def all(self) -> Iterator[Stop]:
        """Tell all stops, in order."""
        before: Run | None = None
        for run in self.plan.runs:
            yield self._between(before, run)
            within = [
                self._within(run, change)
                for change in self.changes[run.number]
                if change.where != "run end"
            ]
            within += [self._parked(run, leg) for leg, _ in run.parked]
            yield from sorted(within, key=lambda stop: stop.along)
            before = run
        if before is not None:
            yield self._last(before)

    def _between(self, before: Run | None, run: Run) -> Stop:
        """Tell what is done before a run. Another needle is a task after "foot"."""
        fuse = self._due(run)
        roll = self.rolling.get(run.number)
        pressed = [*self._fused(fuse, basted=before is not None)]
        tasks = [*self._off(before, run, fuse)]
        if not (fuse and self.within):  # in the frame they are pressed where it has been rolled to
            tasks += pressed
        if before is None and roll is None:
            how = " sideways, the left edge first" if self.plan.sideways else ""
            load = f"Load backing, batting and top into the frame{how}."
            baste = "Layer backing, batting and top, and baste them."
            tasks.append(Task("layer", load if self.framed else baste))
        if roll:
            tasks.append(Task("roll", f"{roll}"))
        elif before and fuse and self.framed and not self.within:
            tasks.append(Task("roll", "Load the quilt again where it was."))
        if fuse and self.within:
            tasks += pressed
        thread, bobbin = self._threaded(before, run)
        foot = feet_put_on(self.plan).get((run.number, 0))
        tasks += [*thread, *bobbin, *self._stitch(run)]
        if foot is not None:
            tasks.append(Task("foot", foot_words(foot, first=before is None)))
        if before is None:
            if not self.framed:  # whose layers are held without pins
                tasks.append(Task("pins", "Take out each pin before the needle comes to it."))
            tasks.append(Task("test", "Sew a test on scraps of the same layers."))
        begin, _ = self.teller.ends(run)
        tasks.append(Task("go", f"Go to where run {run.number} begins: {begin}."))
        doing = [
            f"fuse {format_count(len(fuse), 'piece')}" * bool(fuse),
            (roll.lead[:1].lower() + roll.lead[1:]) if roll else "",
            (f"change to {run.thread}" if before else f"load {run.thread}") * bool(thread),
            "change the bobbin" * (bool(bobbin) and not thread),
            "change the foot" * (foot is not None and before is not None),
        ]
        title = join_words([*filter(None, doing)] or ["go on to its beginning"])
        kind: Literal["start", "run"] = "run" if before else "start"
        return Stop(kind, run.number, 0, 0.0, title, tuple(tasks), fuse)

    def _off(self, before: Run | None, run: Run, fuse: Sequence[int]) -> Iterator[Task]:
        """Secure what was sewn, and take the quilt off, or leave it."""
        if before is None:
            return
        yield Task("end", self._ended(before.end_where))
        yield self._taken() if fuse and not self.within else self._left()
        if fuse or before.thread != run.thread:
            yield Task("trim", "Trim all loose threads, front and back.")

    def _taken(self) -> Task:
        return Task(
            "off", f"Take the quilt {'out of the frame' if self.framed else 'off the machine'}."
        )

    def _left(self) -> Task:
        return Task(
            "off", f"Leave the quilt {'in the frame' if self.framed else 'on the machine'}."
        )

    def _fused(self, fuse: Sequence[int], *, basted: bool = True) -> Iterator[Task]:
        """Fuse pieces, with no pin under the iron."""
        if not fuse:
            return
        if basted and not self.framed:
            yield Task("pins", "Take out the pins where you press.")
        pieces = self.plan.places.pieces(fuse)
        if self.within and set(fuse) & set(self.windows):
            board = "Needle up, machine off. Put a board under the quilt where you press."
            yield Task("fuse", f"{board} Fuse {pieces}, as the label of the web says.")
            yield Task("cool", "Let it cool on the board, then take the board out.")
            return
        yield Task("fuse", f"Fuse {pieces}, as the label of the web says.")
        yield Task("cool", "Let it cool, lying flat, before you move it.")

    def _due(self, run: Run) -> tuple[int, ...]:
        """Give the pieces that have to be on the quilt for a run and are not yet.

        In the frame each is fused in its own window.
        """
        due = [each for each in sorted(self.waiting) if each <= run.stage]
        pieces = [number for each in due for number in self.waiting.pop(each)]
        now = [n for n in pieces if self.windows.get(n, run.windows[0]) in run.windows]
        if len(now) < len(pieces):
            self.waiting[run.stage] = [n for n in pieces if n not in now]
        return tuple(now)

    def _threaded(self, before: Run | None, run: Run) -> tuple[list[Task], list[Task]]:
        """Load thread and bobbin for a run, as far as they are other than those before it."""
        thread: list[Task] = []
        if before is None:
            thread.append(Task("thread", f"Thread the machine with {run.thread}."))
        elif before.thread != run.thread:
            words = f"Take off the {before.thread} thread and put on {run.thread}."
            thread.append(Task("thread", words))
        wound = self.stitching.bobbin_of(run.thread).name
        ended = [
            change
            for change in (self.changes[before.number] if before else ())
            if change.where == "run end"
        ]
        bobbin = self._bobbin(ended, wound)
        self.loaded = wound
        return thread, bobbin

    def _bobbin(self, ended: Sequence[BobbinChange], wound: str) -> list[Task]:
        """Change the bobbin between two runs; another thread's is kept until it comes again."""
        out = self.bobbins.get(self.loaded, 0)
        for change in ended:
            self.bobbins[change.thread] = change.bobbin + 1
        new = self.bobbins.setdefault(wound, 1)
        again = " again" if (wound, new) in self.used else ""
        self.used.add((wound, new))
        if self.loaded == wound:
            text = _swapped(wound, out, new) + self._kept(ended)
            return [Task("bobbin", text)] if new != out else []
        return [Task("bobbin", f"Put in bobbin {new} of {wound}{again}.")]

    def _kept(self, ended: Sequence[BobbinChange]) -> str:
        """Tell what is left on the bobbin taken out, and why it is."""
        if not (ended and self.stitching.kept):
            return ""
        change, unit = ended[-1], self.plan.top.unit
        left = f" {format_thread(change.waste, unit)} are left on it"
        after = [
            use.bobbin
            for run, use in zip(self.plan.runs, self.plan.thread.runs, strict=True)
            if run.number > change.stop.run
            and self.stitching.bobbin_of(run.thread).name == change.thread
        ]
        if after and after[0] > change.waste:
            left += f", and the next run takes {format_thread(after[0], unit)}"
        return f"{left}: keep it for another job."

    def _within(self, run: Run, change: BobbinChange) -> Stop:
        """Tell a change of bobbin within a run."""
        new = change.bobbin + 1
        self.bobbins[change.thread] = new
        self.used.add((change.thread, new))
        where: Where = "margin" if change.where == "margin" else "inside"
        place = self.teller.spot(change.stop)
        tasks = (
            Task("end", self._ended(where)),
            self._left(),
            Task("bobbin", _swapped(change.thread, change.bobbin, new)),
            Task("go", f"Begin again at the same place: {place}."),
        )
        stop = change.stop
        return Stop("bobbin", run.number, stop.leg, stop.along, "change the bobbin", tasks)

    def _parked(self, run: Run, leg: int) -> Stop:
        """Tell of the quilt rolled on within a run."""
        along = float(path_lengths([each.points for each in run.legs[:leg]]).sum())
        tasks = (
            Task("roll", f"{self.parked[run.number, leg]}"),
            Task("go", "Go on from there with the same thread."),
        )
        return Stop("park", run.number, leg, along, "roll the quilt on", tasks)

    def _last(self, run: Run) -> Stop:
        """Tell what is left when all is stitched."""
        fuse = tuple(n for each in sorted(self.waiting) for n in self.waiting.pop(each))
        left = Task("pins", "Feel for pins that are left, and take them out.")
        pins = () if self.framed else (left,)
        tasks = (
            Task("end", self._ended(run.end_where)),
            self._taken(),
            Task("trim", "Trim all loose threads, front and back."),
            *self._fused(fuse),
            *pins,
            Task("finish", "Trim batting and backing even with the top, and bind it."),
        )
        along = float(path_lengths([leg.points for leg in run.legs]).sum())
        return Stop("end", run.number, len(run.legs) - 1, along, "all is stitched", tasks, fuse)

    def _ended(self, where: Where) -> str:
        """Say what is done with the ends of the threads."""
        if where != "inside":
            return "Stop with the needle up and cut the threads."
        if self.stitching.secure == "tie-off":
            return "Stop, tie off with small stitches and trim the threads."
        return "Stop, secure the threads and bury the tails."

    def _stitch(self, run: Run) -> Iterator[Task]:
        """Set the length of the stitch, where it is another than before."""
        kinds = dict.fromkeys(self.plan.lines[leg.line].kind for leg in run.legs if leg.line >= 0)
        rates = {float(getattr(self.stitching.per_mm, kind)): kind for kind in kinds}
        if len(rates) == 1 and self.stitch not in rates:
            (self.stitch,) = rates
            yield Task("stitch", f"Set {self._rate(self.stitch)}.")
        elif len(rates) > 1:
            self.stitch = 0.0
            told = [f"{self._rate(rate)} for the {kind}" for rate, kind in rates.items()]
            yield Task("stitch", f"Set {join_words(told)}.")

    def _rate(self, per_mm: float) -> str:
        return stitch_words(per_mm, self.plan.top.unit)


def stitch_words(per_mm: float, unit: Unit) -> str:
    """Word a stitch: so many to the inch, or so long.

    Examples
    --------
    >>> stitch_words(10 / 25.4, "in"), stitch_words(10 / 25.4, "cm")
    ('10 stitches to the inch', 'stitches 2.5 mm long')
    """
    if unit == "in":
        return f"{per_mm * MM_PER['in']:.3g} stitches to the inch"
    return f"stitches {1 / per_mm:.2g} mm long"


def _swapped(thread: str, out: int, new: int) -> str:
    return f"Take out bobbin {out} of {thread} and put in bobbin {new}."
