"""How near to the edge of a piece a line may come: cut there, run on to the tip, and watched."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from shapely import LineString
from shapely.ops import substring

from stitchpath.base.typing import BoolArray, FloatArray
from stitchpath.lines.centre.arms import SAMPLE, Path, resampled
from stitchpath.lines.centre.edge import NEAR, Ground
from stitchpath.lines.centre.pruning import CentreRules

__all__ = ["NECK", "SLACK", "CentreNote", "held_inside", "note", "run_on", "stays_inside"]

SLACK = 0.03  # mm that a line may come nearer to the edge than asked rather than be cut
_HAIR = 0.1  # mm: a neck narrower than twice that holds together by nothing
_ON_EDGE = 5e-4  # mm that rounding may carry the end of a line over the edge
_STEP = 0.25  # mm between places where a line that runs on is looked at
_WATCHED = 0.08  # mm nearer to the edge than asked that the finished line may come

NECK = "the piece has a narrow neck, which is stitched through"
_STOPS = "the piece is too narrow for a line, which stops on both sides"


@dataclass(frozen=True, slots=True)
class CentreNote:
    """Something to know about the lines of a piece.

    Attributes
    ----------
    text
        What it is, in a quilter's words.
    at
        Where, (x, y), mm.
    width
        Width of the piece there, mm; None where it is not for the width.
    astray
        Whether a line is not drawn, for it would leave the piece.
    """

    text: str
    at: tuple[float, float]
    width: float | None
    astray: bool = False


def note(text: str, at: FloatArray, radius: float) -> CentreNote:
    """Note something at a place, with its width."""
    return CentreNote(text, (float(at[0]), float(at[1])), 2.0 * float(radius))


def held_inside(
    paths: list[Path], ground: Ground, rules: CentreRules
) -> tuple[list[Path], list[CentreNote]]:
    """Cut lines where the edge comes nearer beside them than it may, but for short necks.

    Parameters
    ----------
    paths
        Lines of a part.
    ground
        The part.
    rules
        `side` and `neck`.
    """
    held, notes = [], []
    for path, clear in zip(paths, _apart(paths, ground, rules.side), strict=True):
        place = path.places
        runs = _clear_stretches(clear)
        through = clear + rules.side > _HAIR

        def neck(stop: int, start: int, place: FloatArray = place, ok: BoolArray = through) -> bool:
            """Tell whether a line goes on from before `stop` to `start`: inside, and not far."""
            inside = bool(ok[stop:start].all())
            return (
                inside and place[min(start, len(place) - 1)] - place[max(stop - 1, 0)] <= rules.neck
            )

        joined: list[tuple[int, int]] = []
        ends = [(0, 0)] if path.ends[0] is not None else []
        stops = [(len(clear), len(clear))] if path.ends[1] is not None else []
        marks = [*ends, *runs, *stops]
        for start, stop in marks:
            if joined and neck(joined[-1][1], start):
                if start > joined[-1][1]:
                    notes.append(_at_worst(NECK, path, clear, (joined[-1][1], start), rules.side))
                joined[-1] = joined[-1][0], stop
            else:
                joined.append((start, stop))
        kept = [(a, b) for a, b in joined if b > a]
        for (_, stop), (start, _) in pairwise(kept):
            notes.append(_at_worst(_STOPS, path, clear, (stop, start), rules.side))
        held += [_stretch(path, clear, a, b) for a, b in kept]
    return [path for path in held if len(path.points) > 1], notes


def _apart(paths: list[Path], ground: Ground, side: float) -> list[FloatArray]:
    """How much farther than `side` each point of each line is from the edge, mm."""
    if not paths:
        return []
    every = ground.clear(np.concatenate([path.points for path in paths])) - side
    return np.split(every, np.cumsum([len(path.points) for path in paths])[:-1])


def _at_worst(
    text: str, path: Path, clear: FloatArray, gap: tuple[int, int], side: float
) -> CentreNote:
    """Note the middle of the narrowest of a gap."""
    within = clear[gap[0] : gap[1]]
    worst = gap[0] + int(np.median(np.flatnonzero(within <= within.min() + SLACK)))
    return note(text, path.points[worst], clear[worst] + side)


def _stretch(path: Path, clear: FloatArray, start: int, stop: int) -> Path:
    """Take a stretch of a line, up to where it has to stop."""
    points = path.points[start:stop]
    ends = list(path.ends)
    if start > 0:
        points = np.concatenate([[_crossing(path.points, clear, start, -1)], points])
        ends[0] = None
    if stop < len(path.points):
        points = np.concatenate([points, [_crossing(path.points, clear, stop - 1, 1)]])
        ends[1] = None
    return Path(points, (ends[0], ends[1]))


def _clear_stretches(clear: FloatArray) -> list[tuple[int, int]]:
    """Stretches that can be stitched, as (start, stop): a little too near at most between ends."""
    change = np.diff(np.concatenate([[0], (clear >= -SLACK).astype(np.int8), [0]]))
    runs = []
    for start, stop in zip(np.flatnonzero(change == 1), np.flatnonzero(change == -1), strict=True):
        far = np.flatnonzero(clear[start:stop] >= 0)
        if len(far):
            runs.append((int(start + far[0]), int(start + far[-1]) + 1))
    return runs


def _crossing(points: FloatArray, clear: FloatArray, inner: int, way: int) -> FloatArray:
    """Where a line leaves the part it may stitch, between a point inside and the next."""
    outer = inner + way
    if clear[inner] < 0 or clear[outer] >= clear[inner]:
        return np.array(points[inner])
    share = min(clear[inner] / (clear[inner] - clear[outer]), 1.0)
    crossing: FloatArray = points[inner] + share * (points[outer] - points[inner])
    return crossing


def run_on(
    paths: list[Path], ground: Ground, tip: float, side: float, beside: float = 0.0
) -> list[Path]:
    """Run the free ends of lines straight on until they are `tip` short of the end of their arm.

    Parameters
    ----------
    paths
        Lines of a part.
    ground
        The part.
    tip
        How far short of the edge ahead they stop, mm.
    side
        How near the edge beside them may come, mm.
    beside
        How much farther off it has to be for what is stitched beside a line, where an arm has room
        for that, mm.
    """
    ways = [path if side else path.turned() for path in paths for side in (0, 1)]
    free = [k for k, way in enumerate(ways) if way.ends[1] is None]
    if not free:
        return paths
    ends = np.stack([ways[k].points[-1] for k in free])
    reach = ground.clear(ends)
    headings = np.stack(
        [_heading(ways[k].points, far) for k, far in zip(free, reach.tolist(), strict=True)]
    )
    hits = np.where(reach > 0, ground.ahead(ends, headings), 0.0)
    done = list(paths)
    for k, heading, hit in zip(free, headings, hits.tolist(), strict=True):
        path = done[k // 2] if k % 2 else done[k // 2].turned()
        room = float(np.median(ground.clear(path.points))) if beside else 0.0
        near = side + beside if room >= side + beside else side
        path = _run_on(path, ground, (heading, hit), tip, near)
        done[k // 2] = path if k % 2 else path.turned()
    return done


def _run_on(
    path: Path, ground: Ground, ahead: tuple[FloatArray, float], tip: float, side: float
) -> Path:
    """Run the last end of a line on in a direction, the edge so far ahead, or draw it back."""
    end = path.points[-1]
    heading, hit = ahead
    if hit >= tip:
        at = np.arange(0.0, hit - tip + _STEP, _STEP)
        at[-1] = hit - tip
        clear = ground.clear(end + at[:, None] * heading)
        least = np.minimum(side, hit - at)  # at the very end the edge ahead is nearer than beside
        near = np.flatnonzero(clear < least - NEAR)
        if len(near) == 0:
            return _longer(path, end + (hit - tip) * heading)
        if near[0] > 0:
            a, b = (clear - least)[[near[0] - 1, near[0]]].tolist()
            share = max(a, 0.0) / max(max(a, 0.0) - b, 1e-12)
            stop = at[near[0] - 1] + share * (at[near[0]] - at[near[0] - 1])
            return _longer(path, end + stop * heading)
    return _drawn_in(path, ground, max(tip - hit, 0.0), side)


def _longer(path: Path, to: FloatArray) -> Path:
    more = resampled(np.stack([path.points[-1], to]))[1:]
    return Path(np.concatenate([path.points, more]), path.ends)


def _drawn_in(path: Path, ground: Ground, back: float, side: float) -> Path:
    """Draw the last end of a line back, and on to where the edge is far enough off."""
    length = path.length
    clear = ground.clear(path.points)
    wide = np.flatnonzero(clear >= side - NEAR)
    keep = min(length - back, float(path.places[wide[-1]]) if len(wide) else 0.0)
    if keep >= length - NEAR:
        return path
    if keep <= NEAR:
        return Path(path.points[:1].repeat(2, axis=0), path.ends)
    line = substring(LineString(path.points), 0.0, keep)
    return Path(shapely.get_coordinates(line), path.ends)


def _heading(points: FloatArray, reach: float) -> FloatArray:
    """Tell which way a line ends, over the last eighth of the width there: a unit vector."""
    gone = np.hypot(points[:, 0] - points[-1, 0], points[:, 1] - points[-1, 1])
    far = np.flatnonzero(gone > max(0.25 * reach, 2 * SAMPLE))
    back = points[far[-1]] if len(far) else points[0]
    away: FloatArray = points[-1] - back
    return away / max(float(np.hypot(*away)), 1e-12)


def stays_inside(
    line: FloatArray, ground: Ground, rules: CentreRules, clear: FloatArray | None = None
) -> bool:
    """Tell whether a finished line lies in its piece, and near the edge only in short necks.

    Parameters
    ----------
    line
        Shape (n, 2), mm.
    ground
        The piece as it was drawn.
    rules
        `side` and `neck`.
    clear
        Distance to the edge of points evenly along it, shape (k,), mm, where it is known.
    """
    whole = LineString(line)
    if not ground.outline.covers(whole):
        left = shapely.difference(whole, shapely.buffer(ground.outline, _ON_EDGE))
        if not left.is_empty:
            return False
    if clear is None:
        clear = ground.clear(resampled(line))
    near = clear < rules.side - _WATCHED
    change = np.flatnonzero(np.diff(np.concatenate([[0], near.astype(np.int8), [0]])))
    longest = int(np.diff(change.reshape(-1, 2), axis=1).max(initial=0))
    return longest * whole.length <= (rules.neck + 2 * SAMPLE) * len(clear)
