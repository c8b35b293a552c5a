"""Cures for loose ground: a seam to stitch as well, or the fill that takes the least time."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple, TypeAlias

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from stitchpath.base.errors import StitchpathError
from stitchpath.base.findings import Check
from stitchpath.base.typing import BoolArray, FloatArray, Kind
from stitchpath.base.units import Unit, format_length, format_thread
from stitchpath.checks.batting import ground_words, loose_ground
from stitchpath.checks.out_and_back import best_lines, check_ways
from stitchpath.checks.seam_words import seam_words
from stitchpath.design.model import Design, Fill
from stitchpath.geometry.empty_circles import LoosePlace, loose_places
from stitchpath.geometry.polylines import path_lengths
from stitchpath.geometry.tolerances import GRID
from stitchpath.hands.feet import STRAIGHT, foot_for
from stitchpath.hands.pace import KINDS
from stitchpath.hands.tariff import Tariff, tariff_of
from stitchpath.lines.collect import Collected, collect_lines
from stitchpath.lines.ditch import SeamBit, chosen_seams, seam_bits
from stitchpath.lines.fill_lines import Filler
from stitchpath.lines.fills.pattern import THROUGH
from stitchpath.lines.line import Line
from stitchpath.lines.regions import Region, faces
from stitchpath.thread import Stitching
from stitchpath.thread.from_design import stitching_of
from stitchpath.top.build import Top, build_top
from stitchpath.top.place import Place
from stitchpath.top.place_names import Places

__all__ = [
    "Cure",
    "Remedy",
    "Survey",
    "Taken",
    "cheapest_cure",
    "check_loose",
    "close_gaps",
    "closed_gaps",
    "cured_design",
    "remedies",
    "survey",
]

Taken: TypeAlias = tuple[float, float]
"""Thread, mm, and seconds at the machine that something takes."""

_STYLES = ("parallel", "spiral", "meander")  # straight, round, wandering: one of each kind
_STEPS = (1.0, 0.75, 0.5, 0.375, 0.25)  # spacings tried, as shares of the batting's distance
_TIGHTER = (0.75, 0.5, 0.375, 0.25)
_ROUNDS = 12
_SEAMS = 4  # more seams than these are no cure for one place
_NAMED = 6  # patches a fill is told by name; more are called "rest"
_PRICED = 4  # so many cures are planned, to say what they take; planning takes a while
_MINUTE = 60
_AT_LEAST = 0.5  # a fill is at least this share of area / spacing long, in narrow ground too
_WIDE = 30  # squares of the batting's distance: a meander over more takes long to draw
_GRAZE = 1.0  # mm: a seam that only grazes a circle does not hold it


@dataclass(frozen=True, slots=True)
class Cure:
    """One way to hold a loose place.

    Attributes
    ----------
    seams
        Seams of the top to stitch as well, by index.
    fill
        Or the fill to add.
    tightened
        Or the number of the design's own fill that `fill` takes the place of, from 0.
    length
        Stitching added in this one place, mm.
    thread
        Top and bobbin together, mm.
    seconds
        At the machine.
    """

    seams: tuple[int, ...]
    fill: Fill | None
    tightened: int | None
    length: float
    thread: float
    seconds: float


@dataclass(frozen=True, eq=False)
class Survey:
    """A design with its lines, and what of it may still be stitched; made when first asked for.

    Attributes
    ----------
    design, top
        The design and its top.
    now
        Called with what is being done, where that takes a while.
    """

    design: Design
    top: Top
    now: Callable[[str], None] | None = None

    @classmethod
    def of(cls, design: Design, now: Callable[[str], None] | None = None) -> "Survey":
        """Look over a design.

        Raises
        ------
        StitchpathError
            When it does not make a top.
        """
        if now is not None:
            now("laying out the top")
        top = build_top(design)
        if now is not None and top.pieces:
            now("choosing the lines of the pieces")
        return cls(*best_lines(design, top), now)

    def changed(self, design: Design) -> "Survey":
        """Look over a design that makes the same top."""
        return self if design is self.design else Survey(design, self.top, self.now)

    @cached_property
    def words(self) -> Places:
        """Words for the places of the top."""
        return Places(self.top)

    @cached_property
    def bits(self) -> tuple[SeamBit, ...]:
        """The seams, cut beside fused pieces."""
        return tuple(seam_bits(self.top))

    @cached_property
    def collected(self) -> Collected:
        """The lines, and what they were made from."""
        return collect_lines(self.design, self.top, self.bits, self.now)

    @property
    def lines(self) -> tuple[Line, ...]:
        """Lines to quilt, not noded."""
        return self.collected.lines

    @cached_property
    def left_out(self) -> tuple[Check, ...]:
        """What had to be left out of the lines, and what would cost less another way."""
        ways = check_ways(self.design, self.top, self.lines, self.words)
        return (*self.collected.found, *ways)

    @property
    def stitched(self) -> BoolArray:
        """Which seams are stitched."""
        return self.collected.stitched

    @property
    def regions(self) -> tuple[tuple[Region, ...], ...]:
        """Regions of each fill."""
        return self.collected.regions

    @cached_property
    def allowed(self) -> BoolArray:
        """Which seams may be stitched as well: all but those left out by hand."""
        freely = self.design.lines.model_copy(update={"ditch": ("all",), "include": []})
        return chosen_seams(self.top, freely) & ~self.stitched

    @cached_property
    def faces(self) -> tuple[Region, ...]:
        """Ground between stitched seams."""
        return tuple(faces(self.top, self.stitched))

    @cached_property
    def fill_cures(self) -> dict[bytes, list[Cure]]:
        """New fills found so far, by the ground and the lines about it, as `_as_laid` tells it."""
        return {}

    @cached_property
    def filler(self) -> Filler:
        """Makes fills; equal regions share their work."""
        return Filler(self.design, self.top, self.bits, self.stitched)

    @cached_property
    def stitching(self) -> Stitching:
        """How it is stitched."""
        return stitching_of(self.design)

    @cached_property
    def tariff(self) -> Tariff:
        """What everything takes."""
        return tariff_of(self.design, self.top, ())

    @property
    def fastest(self) -> float:
        """How fast any fill is stitched, mm a second."""
        return float(self.tariff.speed[:, KINDS.index("fill")].max())

    @cached_property
    def taken(self) -> tuple[list[BaseGeometry], shapely.STRtree]:
        """Areas that no new fill may take: those of other fills, and pieces fused before."""
        taken: list[BaseGeometry] = [r.shape for regions in self.regions for r in regions]
        taken += [p.shape for p in self.top.pieces if p.asked.fused == "before"]
        return taken, shapely.STRtree(taken)

    def fill_at(self, place: LoosePlace) -> tuple[int, Region] | None:
        """Find the fill that has the middle of a place, by number, and its region there."""
        listed, tree = self._filled
        middle = shapely.Point(place.x, place.y)
        hit = tree.query(middle, predicate="dwithin", distance=1e-6)
        return listed[int(hit.min())] if len(hit) else None

    @cached_property
    def _filled(self) -> tuple[list[tuple[int, Region]], shapely.STRtree]:
        """Every region of every fill."""
        listed = [(k, region) for k, regions in enumerate(self.regions) for region in regions]
        return listed, shapely.STRtree([region.shape for _, region in listed])

    @property
    def limit(self) -> float:
        """How far apart the batting allows the quilting to be, mm."""
        limit = self.design.batting.holds
        if limit is None:
            raise StitchpathError(
                "found no batting, expected its kind or distance in the design"
            ).unless("batting")
        return limit

    @cached_property
    def loose(self) -> list[LoosePlace]:
        """List the loose places of the whole top, the biggest first."""
        return loose_places(self.top.outline, [x.points for x in self.lines], self.limit)

    @cached_property
    def open_bits(self) -> tuple[tuple[SeamBit, ...], shapely.STRtree]:
        """Index what of the seams may be stitched as well."""
        bits = tuple(bit for bit in self.bits if self.allowed[bit.seam])
        return bits, shapely.STRtree([LineString(bit.points) for bit in bits])

    @cached_property
    def block_at(self) -> dict[Place, str]:
        """Tell which block lies at each place of one."""
        return {laid.place: laid.block.name for laid in self.top.blocks}

    @cached_property
    def blocks_called(self) -> dict[str, set[Place]]:
        """List the places of the blocks of each name."""
        called: dict[str, set[Place]] = {}
        for place, name in self.block_at.items():
            called.setdefault(name, set()).add(place)
        return called

    @cached_property
    def _alike(self) -> tuple[list[tuple[tuple[str, int, str], ...]], dict[object, list[int]]]:
        """Tell each seam by what lies beside it, and list the seams that are told so."""
        beside = [
            (self.block_at.get(patch.place, patch.place.part), patch.place.number, patch.name)
            for patch in self.top.patches
        ]
        told = [tuple(sorted((beside[s.left], beside[s.right]))) for s in self.top.seams]
        listed: dict[object, list[int]] = {}
        for seam, key in enumerate(told):
            listed.setdefault(key, []).append(seam)
        return told, listed

    def alike(self, seam: int) -> list[int]:
        """List the seams between such patches, in every block of a name, that may be stitched."""
        told, listed = self._alike
        return [other for other in listed[told[seam]] if self.allowed[other]]

    @cached_property
    def patch_tree(self) -> shapely.STRtree:
        """Index the patches."""
        return shapely.STRtree([patch.polygon for patch in self.top.patches])

    @cached_property
    def face_tree(self) -> shapely.STRtree:
        """Index the faces."""
        return shapely.STRtree([face.shape for face in self.faces])

    @cached_property
    def line_tree(self) -> shapely.STRtree:
        """Index the lines."""
        return shapely.STRtree([LineString(line.points) for line in self.lines])

    def seam_paths(self, seams: Sequence[int]) -> list[FloatArray]:
        """Give what is stitched of some seams."""
        wanted = set(seams)
        return [bit.points for bit in self.bits if bit.seam in wanted]


def survey(design: Design, now: Callable[[str], None] | None = None) -> Survey:
    """Build the lines of a design, and see where more could be stitched.

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
    found = Survey.of(design, now)
    _ = found.lines  # what cannot be stitched is told of now
    return found


def cheapest_cure(found: Survey, place: LoosePlace) -> Cure | None:
    """Find what holds a loose place in the least time.

    Every cure is tried on the ground between stitched seams about the place, and measured.

    Parameters
    ----------
    found
        The design.
    place
        One of its loose places.

    Returns
    -------
    Cure or None
        None where no seam and no fill that is tried holds it, as on a wide appliqué piece.
    """
    number = _face_number(found, place)
    if number is None:
        return None
    face = found.faces[number]
    cures = [*_seam_cures(found, face, place), *_fill_cures(found, face, place)]
    return min(cures, key=lambda cure: (cure.seconds, cure.length), default=None)


@dataclass(frozen=True, slots=True)
class _Kind:
    """Ground between stitched seams that is loose in the same way wherever it lies.

    Attributes
    ----------
    places
        The widest first.
    at
        Faces that have these places, by number; none where a place lies in no face.
    """

    places: list[LoosePlace]
    at: dict[int, Region]

    @property
    def faces(self) -> list[Region]:
        """The ground, that of the widest place first."""
        return list(self.at.values())


def check_loose(
    found: Survey, extra: Callable[[Survey], Taken | None] | None = None
) -> Iterator[Check]:
    """Warn of loose ground, the widest first, each kind with what holds it most cheaply.

    What one fill would hold is told as one. Ground that runs together over seams without stitching
    is counted once.

    Parameters
    ----------
    found
        The design.
    extra
        Plans a design with a cure, and gives what it takes beyond the design as it is; None where
        that cannot be told. Without it no cures are looked for.
    """
    if found.design.batting.holds is None:
        return
    told = _told_as_one(found, with_cures=extra is not None)
    for number, alike in enumerate(told):
        message = _loose_words(found, [kind for kind, _ in alike])
        cure = alike[0][1]
        if extra is not None and cure is None:
            message += " No seam or fill tried holds it: stitch more of the piece itself."
        elif extra is not None and cure is not None:
            message += f" Cheapest cure: {_what(found, cure, alike[0][0].faces)}"
            if number < _PRICED:
                if found.now is not None:
                    found.now(f"planning what would hold loose ground, {number + 1} of {len(told)}")
                cured = cured_design(found, [(k.faces, c) for k, c in alike if c is not None])
                taken = extra(found.changed(cured))
                message += f" ({_taken(taken, found.top.unit)})" if taken is not None else ""
            message += "."
        widest = alike[0][0].places[0]
        yield Check("warning", "loose-ground", message, (widest.x, widest.y))


def _told_as_one(found: Survey, *, with_cures: bool) -> list[list[tuple[_Kind, Cure | None]]]:
    """Sort loose ground by what holds it."""
    told: dict[object, list[tuple[_Kind, Cure | None]]] = {}
    for kind in _kinds_of_ground(found):
        cure = cheapest_cure(found, kind.places[0]) if with_cures and kind.faces else None
        # One fill may hold several kinds; a seam is told with its own ground.
        fill = cure and cure.fill and (cure.fill.style, cure.fill.spacing, cure.tightened)
        told.setdefault(fill or len(told), []).append((kind, cure))
    return list(told.values())


class Remedy(NamedTuple):
    """What holds some loose places.

    Attributes
    ----------
    places
        Those places, the widest first.
    words
        What is done, as in "fill it with parallel at a spacing of 2 in"; empty where nothing tried
        holds them.
    length, seconds
        Stitching added, mm, and time at the machine, in all these places.
    design
        The design with it; None where nothing tried holds them.
    """

    places: tuple[LoosePlace, ...]
    words: str
    length: float
    seconds: float
    design: Design | None


def remedies(found: Survey) -> list[Remedy]:
    """Find what holds each kind of loose ground most cheaply, the widest first.

    Parameters
    ----------
    found
        The design; without a batting nothing is loose.
    """
    if found.design.batting.holds is None:
        return []
    made = []
    for alike in _told_as_one(found, with_cures=True):
        places = tuple(place for kind, _ in alike for place in kind.places)
        held = [(kind.faces, cure) for kind, cure in alike if cure is not None]
        if not held:
            made.append(Remedy(places, "", 0.0, 0.0, None))
            continue
        words = _what(found, held[0][1], [face for faces, _ in held for face in faces])
        length = sum(cure.length * len(faces) for faces, cure in held)
        seconds = sum(cure.seconds * len(faces) for faces, cure in held)
        made.append(Remedy(places, words, length, seconds, cured_design(found, held)))
    return made


def _loose_words(found: Survey, kinds: Sequence[_Kind]) -> str:
    """Say where ground is loose, and by how much."""
    batting, unit = found.design.batting, found.top.unit
    kind = batting.kind if batting.distance is None else None
    allows = f"{kind} usually allows" if kind else "the batting allows"
    places = [place for each in kinds for place in each.places]
    within = [place for each in kinds if not _runs_on(found, each) for place in each.places]
    patches = [i for ground in loose_ground(found.top, within, found.words) for i in ground.patches]
    units = [i for each in kinds if _runs_on(found, each) for i in _under(found, each)]
    where = [ground_words(found.words, patches)] if patches else []
    where += [found.words.units(units)] if units else []
    many = "a circle" if len(places) == 1 else f"{len(places)} circles, the widest"
    return (
        f"Loose ground in {'; '.join(where)}: {many} "
        f"{format_length(places[0].diameter, unit)} wide without stitching, "
        f"where {allows} {format_length(found.limit, unit)}."
    )


def _runs_on(found: Survey, kind: _Kind) -> bool:
    """Tell whether ground runs on from one block, strip or border to another."""
    return any(
        len({found.top.patches[i].place for i in face.patches}) > 1 for face in kind.faces[:1]
    )


def _under(found: Survey, kind: _Kind) -> list[int]:
    """List the patches of the ground that lie well within its loose circles."""
    members = {i for face in kind.faces for i in face.patches}
    under: dict[int, None] = {}
    for place in kind.places:
        middle = shapely.Point(place.x, place.y)
        near = found.patch_tree.query(middle, predicate="dwithin", distance=0.45 * place.diameter)
        under |= dict.fromkeys(sorted(int(i) for i in near if int(i) in members))
    return list(under)


def _taken(taken: Taken, unit: Unit) -> str:
    """Say what a cure takes, as in "4.1 m of thread and 3 minutes more"."""
    thread, seconds = taken
    time = f"{seconds:.0f} seconds"
    if seconds >= 2 * _MINUTE:
        time = f"{seconds / _MINUTE:.{1 if seconds < 20 * _MINUTE else 0}f} minutes"
    if round(seconds) <= 0:
        time = "no time"
    return f"{format_thread(max(thread, 0.0), unit)} of thread and {time} more"


def cured_design(found: Survey, cures: Sequence[tuple[Sequence[Region], Cure]]) -> Design:
    """Write cures into a design.

    Parameters
    ----------
    found
        The design.
    cures
        Each with the ground that it holds, the ground it was found for first.

    Returns
    -------
    Design
        With the seams and fills added, and its own fills tightened.
    """
    design = found.design
    pairs, fills = list(design.lines.include), list(design.fills)
    for faces_held, cure in cures:
        pairs += _pairs(found, faces_held, cure.seams)
        if cure.fill is None:
            continue
        if cure.tightened is not None:
            fills[cure.tightened] = cure.fill
            continue
        for names in _names(found, faces_held):
            region = names[0] if len(names) == 1 else names
            fills.append(cure.fill.model_copy(update={"region": region}))
    lines = design.lines.model_copy(update={"include": pairs})
    return design.model_copy(update={"lines": lines, "fills": fills})


def _pairs(found: Survey, alike: Sequence[Region], seams: Sequence[int]) -> list[tuple[str, str]]:
    """Name the seams of a cure in all ground that is alike, by their two patches.

    Seams that every block of a name has are named once, by the block.
    """
    pairs: dict[tuple[str, str], None] = {}
    for both in _beside(found, alike, seams):
        names = [found.top.patches[i].name for i in both[0]]
        block = _every(found, both)
        if block:
            pairs[f"{block}.{names[0]}", f"{block}.{names[1]}"] = None
        else:
            laid = found.top.patches
            pairs |= dict.fromkeys((laid[a].design_name, laid[b].design_name) for a, b in both)
    return list(pairs)


def _beside(
    found: Survey, alike: Sequence[Region], seams: Sequence[int]
) -> Iterator[list[tuple[int, int]]]:
    """Give the two patches of each seam of a cure, in all ground that is alike."""
    first = alike[0].patches
    for seam in (found.top.seams[number] for number in seams):
        one, other = first.index(seam.left), first.index(seam.right)
        yield [(face.patches[one], face.patches[other]) for face in alike]


def _every(found: Survey, both: Sequence[tuple[int, int]]) -> str:
    """Name the block, where seams lie in every block of that name; else ""."""
    places = [[found.top.patches[i].place for i in pair] for pair in both]
    block = found.block_at.get(places[0][0])
    every = found.blocks_called.get(block, set()) if block else set()
    whole = all(a == b for a, b in places) and {a for a, _ in places} == every
    return block if block and whole else ""


def _what(found: Survey, cure: Cure, faces_held: Sequence[Region]) -> str:
    if cure.fill is None:
        said = [
            words
            for both in _beside(found, faces_held, cure.seams)
            for words in seam_words(found.top, found.words, both, _every(found, both))
        ]
        return f"stitch {'; '.join(said)}"
    apart = format_length(cure.fill.spacing, found.top.unit)
    if cure.tightened is not None:
        return f"lay its fill closer, {cure.fill.style} at a spacing of {apart}"
    return f"fill it with {cure.fill.style} at a spacing of {apart}"


def close_gaps(design: Design) -> tuple[Design, list[str]]:
    """Add seams, then fills, until the batting's distance holds everywhere.

    Parameters
    ----------
    design
        With a batting.

    Returns
    -------
    design, said
        The design with what was added, and a sentence for each addition; also for what is left.

    Raises
    ------
    StitchpathError
        When the design names no batting, or cannot be planned.
    """
    closed, said = closed_gaps(design)
    return closed.design, said


def closed_gaps(
    design: Design, now: Callable[[str], None] | None = None
) -> tuple[Survey, list[str]]:
    """As `close_gaps`, with the lines of the design as it is then; `now` is told what is done."""
    try:
        found, seams = _add_seams(Survey.of(design, now))
        found, fills = _add_fills(found)
        left = loose_ground(found.top, found.loose, found.words)
    except StitchpathError as error:
        raise error.told_of(design.source) from None
    open_still = [f"still loose: {ground_words(found.words, g.patches)}" for g in left]
    return found, [*seams, *fills, *open_still]


def _add_seams(found: Survey) -> tuple[Survey, list[str]]:
    """Stitch, for each loose place, the allowed seam that passes nearest to its middle.

    And every seam like it, so that blocks that are alike are quilted alike.
    """
    said: list[str] = []
    for _ in range(_ROUNDS):
        design = found.design
        new: dict[int, None] = {}
        for place in found.loose:
            seam = _nearest_seam(found, place)
            if seam is not None and seam not in new:
                new |= dict.fromkeys(found.alike(seam))
        if not new:
            break
        pairs = [_pair(found.top, seam) for seam in new]
        asked = [*design.lines.include, *pairs]
        lines = design.lines.model_copy(update={"include": asked})
        found = found.changed(design.model_copy(update={"lines": lines}))
        beside = [(found.top.seams[seam].left, found.top.seams[seam].right) for seam in new]
        told = [seam_words(found.top, found.words, [pair]) for pair in beside]
        said += [
            f"added {words}" for words in dict.fromkeys(word for some in told for word in some)
        ]
    return found, said


def _add_fills(found: Survey) -> tuple[Survey, list[str]]:
    """Fill the ground that is still loose, each kind with its cheapest fill; then tighten."""
    said: list[str] = []
    for _ in range(_ROUNDS):
        design = found.design
        fills = list(design.fills)
        for kind in _kinds_of_ground(found):
            if not kind.faces:
                continue
            cures = _fill_cures(found, kind.faces[0], kind.places[0])
            cure = min(cures, key=lambda cure: (cure.seconds, cure.length), default=None)
            if cure is None or cure.fill is None:
                continue
            how = f"{cure.fill.style} at {format_length(cure.fill.spacing, found.top.unit)}"
            if cure.tightened is not None:
                if fills[cure.tightened] == design.fills[cure.tightened]:
                    fills[cure.tightened] = cure.fill
                    said.append(f"tightened fills[{cure.tightened + 1}]: {how}")
                continue
            many = len(kind.faces[0].patches) > _NAMED
            for names in [("rest",)] if many else _names(found, kind.faces):
                region = names[0] if len(names) == 1 else names
                fills.append(cure.fill.model_copy(update={"region": region}))
                said.append(f"added a fill: {how} in {', '.join(names)}")
        if fills == list(design.fills):
            break
        found = found.changed(design.model_copy(update={"fills": fills}))
    return found, said


def _kinds_of_ground(found: Survey) -> list[_Kind]:
    """Sort loose places by the patches that their ground is made of, and the fill they lie in."""
    kinds: dict[object, _Kind] = {}
    made_of: dict[int, object] = {}
    for place in found.loose:
        number = _face_number(found, place)
        if number is None:
            kinds.setdefault(None, _Kind([], {})).places.append(place)
            continue
        face = found.faces[number]
        if number not in made_of:
            parts = [found.top.patches[i] for i in face.patches]
            made_of[number] = tuple((found.block_at.get(p.place, p.place), p.name) for p in parts)
        filled = found.fill_at(place)
        kind = kinds.setdefault((made_of[number], filled and filled[0]), _Kind([], {}))
        kind.places.append(place)
        kind.at.setdefault(number, face)
    return list(kinds.values())


def _names(found: Survey, grounds: Sequence[Region]) -> list[tuple[str, ...]]:
    """Name ground in a design: by block where every such block has it loose, else by place."""
    top = found.top
    first = grounds[0].patches
    units = {top.patches[i].place for face in grounds for i in face.patches}
    here = top.patches[first[0]].place
    block = found.block_at.get(here)
    whole = found.blocks_called.get(block, set()) if block else set()
    if all(len({top.patches[i].place for i in f.patches}) == 1 for f in grounds) and units == whole:
        return [tuple(f"{block}.{top.patches[i].name}" for i in first)]
    return [tuple(top.patches[i].design_name for i in face.patches) for face in grounds]


def _pair(top: Top, seam: int) -> tuple[str, str]:
    return top.patches[top.seams[seam].left].design_name, top.patches[
        top.seams[seam].right
    ].design_name


def _face_number(found: Survey, place: LoosePlace) -> int | None:
    middle = shapely.Point(place.x, place.y)
    hit = found.face_tree.query(middle, predicate="dwithin", distance=1e-6)
    return int(hit.min()) if len(hit) else None


def _nearest_seam(found: Survey, place: LoosePlace, taken: Sequence[int] = ()) -> int | None:
    """Find the allowed seam that passes through a circle nearest to its middle."""
    bits, tree = found.open_bits
    middle = shapely.Point(place.x, place.y)
    reach = place.diameter / 2 - _GRAZE
    near = sorted(tree.query(middle, predicate="dwithin", distance=reach).tolist())
    crossing = [bits[k] for k in near if bits[k].seam not in taken]
    if not crossing:
        return None
    lines = [LineString(bit.points) for bit in crossing]
    ranks = [(round(line.distance(middle), 3), round(line.length, 3)) for line in lines]
    best = min(range(len(ranks)), key=lambda k: (ranks[k], k))
    return int(crossing[best].seam)


def _widest(face: Region, paths: Sequence[FloatArray], limit: float) -> LoosePlace | None:
    parts = [p for p in shapely.get_parts(face.shape) if isinstance(p, Polygon)]
    found = [place for part in parts for place in loose_places(part, paths, limit, most=1)]
    return max(found, key=lambda place: place.diameter, default=None)


def _near(found: Survey, face: Region, without: Sequence[int] = ()) -> list[FloatArray]:
    """List the paths of lines that reach a face, apart from some."""
    hit = sorted(found.line_tree.query(face.shape, predicate="intersects").tolist())
    return [found.lines[k].points for k in hit if k not in without]


def _seam_cures(found: Survey, face: Region, place: LoosePlace) -> Iterator[Cure]:
    """Stitch the seam nearest to the middle of the loose place, then that of the next, …."""
    paths = _near(found, face)
    seams: list[int] = []
    left: LoosePlace | None = place
    while left is not None and len(seams) < _SEAMS:
        seam = _nearest_seam(found, left, seams)
        if seam is None:
            return
        seams.append(seam)
        left = _widest(face, [*paths, *found.seam_paths(seams)], found.limit)
    if left is None:
        yield _cure(found, "ditch", found.seam_paths(seams), seams=tuple(seams))


def _fill_cures(found: Survey, face: Region, place: LoosePlace) -> list[Cure]:
    """Fill the ground of a loose place, or tighten the fill that is there."""
    filled = found.fill_at(place)
    if filled is not None:
        return list(_tighter(found, face, filled[1], filled[0]))
    region = _left_free(found, face)
    if region is None:
        return []
    paths = _near(found, face)
    alike = _as_laid(face, region, paths)
    if alike not in found.fill_cures:
        found.fill_cures[alike] = list(_new_fills(found, face, region, paths))
    return found.fill_cures[alike]


def _as_laid(face: Region, region: Region, paths: Sequence[FloatArray]) -> bytes:
    """Tell ground, and the lines about it, from all other, wherever on the top it lies."""
    corner = face.shape.bounds[:2]
    shapes = [shapely.get_coordinates(shapely.normalize(r.shape)) for r in (face, region)]
    laid = [np.rint((at - corner) / GRID).astype(np.int64).tobytes() for at in (*shapes, *paths)]
    return b"|".join([*laid[:2], *sorted(laid[2:])])


def _left_free(found: Survey, face: Region) -> Region | None:
    """Give the ground of a face that nothing has taken."""
    taken, tree = found.taken
    near = sorted(tree.query(face.shape, predicate="intersects").tolist())
    over = shapely.union_all([taken[k] for k in near])
    shape = face.shape.difference(over) if near else face.shape
    parts = [p for p in shapely.get_parts(shape) if isinstance(p, Polygon)]
    if not parts:
        return None
    return Region(face.of, MultiPolygon(parts) if len(parts) > 1 else parts[0], face.patches)


def _new_fills(
    found: Survey, face: Region, region: Region, paths: Sequence[FloatArray]
) -> Iterator[Cure]:
    """Fill the ground of a face, with the widest spacing of each style that holds it."""
    cheapest = np.inf
    for style in _STYLES:
        if style == "meander" and region.shape.area > _WIDE * found.limit**2:
            continue
        # A fill is about as long as its area divided by its spacing. One that is sure to cost
        # more is not drawn.
        asked = [
            _plain_fill(style, spacing)
            for spacing in _spacings(found)
            if _AT_LEAST * region.shape.area / spacing < cheapest
        ]
        cure = _first_that_holds(found, face, region, asked, paths)
        if cure is not None:
            cheapest = min(cheapest, cure.seconds * found.fastest)
            yield cure


def _plain_fill(style: str, spacing: float) -> Fill:
    data = {"region": "rest", "style": style, "spacing": spacing}
    return Fill.model_validate(data, context={"unit": "mm"})


def _tighter(found: Survey, face: Region, region: Region, number: int) -> Iterator[Cure]:
    old = found.design.fills[number]
    within = region.shape.buffer(_GRAZE)
    hit = found.line_tree.query(within, predicate="covers")
    own = [int(k) for k in hit if found.lines[int(k)].kind == "fill"]
    asked = [old.model_copy(update={"spacing": old.spacing * share}) for share in _TIGHTER]
    cure = _first_that_holds(found, face, region, asked, _near(found, face, own), number)
    if cure is not None:
        yield cure


def _spacings(found: Survey) -> list[float]:
    """List the spacings to try, the widest first, on quarter inches or half centimetres."""
    step = 25.4 / 4 if found.top.unit == "in" else 5.0
    tried = [max(np.floor(found.limit * share / step + 1e-6), 1) * step for share in _STEPS]
    return list(dict.fromkeys(float(v) for v in tried))


def _first_that_holds(
    found: Survey,
    face: Region,
    region: Region,
    asked: Sequence[Fill],
    paths: Sequence[FloatArray],
    tightened: int | None = None,
) -> Cure | None:
    """Try fills, the widest first, until one holds the whole ground of the face."""
    for fill in asked:
        made = [line.points for line in found.filler.fill(fill, region, "close-gaps")]
        if made and _widest(face, [*paths, *made], found.limit) is None:
            return _cure(found, "fill", made, fill=fill, tightened=tightened)
    return None


def _cure(
    found: Survey,
    kind: Kind,
    paths: Sequence[FloatArray],
    *,
    seams: tuple[int, ...] = (),
    fill: Fill | None = None,
    tightened: int | None = None,
) -> Cure:
    """Reckon what stitching some paths takes."""
    length = float(path_lengths(list(paths)).sum())
    sewn = length
    if fill is not None and fill.style in THROUGH:  # along the edge to each line
        sewn += len(paths) * fill.spacing
    stitching, tariff = found.stitching, found.tariff
    per_mm: float = getattr(stitching.per_mm, kind)
    thread = sum(stitching.per_seam(per_mm)) * sewn
    straight = fill is None or fill.style in STRAIGHT
    foot = foot_for(found.design.machine, kind, straight=straight)
    corners = tariff.corners(paths, np.full(len(paths), foot))
    seconds = sewn / float(tariff.speed[foot, KINDS.index(kind)]) + float(corners.sum())
    return Cure(seams, fill, tightened, length, thread, seconds)
