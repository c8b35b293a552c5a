"""Single seams stitched or left out, and pressed: one, or all such."""

from collections.abc import Hashable, Iterator, Mapping, Sequence
from typing import Any

from stitchpath.base.errors import StitchpathError, shown
from stitchpath.design.model import Lines
from stitchpath.document.asked import Edit, drop, put, set_value, texts
from stitchpath.document.reading import Reading
from stitchpath.lines.ditch import chosen_seams
from stitchpath.top.build import Top, find_patches, pair_seams

__all__ = ["pressed", "stitched", "such_name", "such_names"]

_Pair = tuple[str, str]
_MOST = 400  # seams named one by one


def such_names(top: Top) -> list[str]:
    """Give for each patch what a design calls it in all such blocks, as "boat.sail"."""
    called = {block.place: block.called[0] for block in top.blocks if block.called}
    return [
        f"{called[p.place]}.{p.name}" if p.part == "block" and p.place in called else p.design_name
        for p in top.patches
    ]


def such_name(top: Top, name: str) -> str:
    """Give what a design calls all that is like a patch or a block of a place."""
    for block in (*top.blocks, *top.compounds):
        if name == block.place.name and block.called:
            return block.called[0]
    names = [p.design_name for p in top.patches]
    return such_names(top)[names.index(name)] if name in names else name


class _Seams:
    """The seams of a top by the pairs of names that a design points at them with."""

    def __init__(self, top: Top) -> None:
        self.top = top
        self.index = find_patches(top.blocks, top.patches)
        self.sides = [(seam.left, seam.right) for seam in top.seams]

    def of(self, pair: Sequence[str], where: str) -> frozenset[int]:
        found = pair_seams(where, (pair[0], pair[1]), self.index, self.sides, self.top.patches)
        return frozenset(found)

    def names(self, seams: frozenset[int]) -> list[_Pair]:
        """Name seams one by one."""
        patches = self.top.patches
        pairs = {
            (patches[self.sides[k][0]].design_name, patches[self.sides[k][1]].design_name): None
            for k in sorted(seams)
        }
        return list(pairs)

    def asked(self, edit: Mapping[str, Any]) -> tuple[list[_Pair], frozenset[int]]:
        """Read which seams an edit means: pairs of names, and all of them by number."""
        one, other = texts(edit, "between", 2)
        seams = self.of((one, other), edit["op"])
        if not edit.get("such"):
            return [(one, other)], seams
        patches = self.top.patches
        left, right = (patches[i] for i in self.sides[min(seams)])
        if left.place == right.place and left.part == "block":
            names = such_names(self.top)
            pair = tuple(names[i] for i in self.sides[min(seams)])
            alike = self.of(pair, edit["op"])
            return [(pair[0], pair[1])], alike | seams
        return self._between_units(min(seams), seams)

    def _between_units(
        self, like: int, seams: frozenset[int]
    ) -> tuple[list[_Pair], frozenset[int]]:
        """List the seams that lie between units of the same kinds."""
        names = such_names(self.top)

        def kind(i: int) -> Hashable:
            patch = self.top.patches[i]
            return names[i] if patch.part == "block" else (patch.part, patch.place.number)

        wanted = frozenset(map(kind, self.sides[like]))
        alike = frozenset(
            k for k, pair in enumerate(self.sides) if frozenset(map(kind, pair)) == wanted
        )
        pairs = self.names(alike | seams)
        if len(pairs) > _MOST:
            raise StitchpathError(
                f"found {len(pairs)} seams like this one, expected at most {_MOST} to be named one "
                'by one: say it for all, as with ditch = "blocks" under lines'
            )
        return pairs, alike | seams


def stitched(document: Reading, edit: Mapping[str, Any]) -> Iterator[Edit]:
    """Stitch a seam, leave it out, or let the design's choice of seams decide (null)."""
    want = edit.get("want")
    if want not in (True, False, None):
        raise StitchpathError(f"stitch: found {shown(want)}, expected true, false or null")
    top, lines = document.top, document.design.lines
    seams = _Seams(top)
    pairs, asked = seams.asked(edit)
    include = _without(
        seams, lines.include, asked, "include", split=want is None, drop=want is not True
    )
    exclude = _without(
        seams, lines.exclude, asked, "exclude", split=want is not False, drop=want is not False
    )
    if want is not None:
        held = chosen_seams(top, _lines(lines, include, exclude))
        new = [p for p in pairs if any(held[k] != want for k in seams.of(p, "stitch") & asked)]
        (include if want else exclude).extend(new)
    yield from _list_edits("include", lines.include, include)
    yield from _list_edits("exclude", lines.exclude, exclude)


def _lines(lines: Lines, include: Sequence[_Pair], exclude: Sequence[_Pair]) -> Lines:
    return lines.model_copy(update={"include": list(include), "exclude": list(exclude)})


def _without(
    seams: _Seams,
    listed: Sequence[_Pair],
    asked: frozenset[int],
    key: str,
    *,
    split: bool,
    drop: bool,
) -> list[_Pair]:
    """Take seams out of a list of pairs; a pair that names others too is told by those others."""
    left: list[_Pair] = []
    more: list[_Pair] = []
    for k, pair in enumerate(listed):
        mine = seams.of(pair, f"lines.{key}[{k + 1}]")
        if drop and mine <= asked:
            continue
        if split and mine & asked:
            more += seams.names(mine - asked)
            continue
        left.append(pair)
    return [*left, *(pair for pair in more if pair not in left)]


def _list_edits(key: str, old: Sequence[_Pair], new: Sequence[_Pair]) -> Iterator[Edit]:
    """Change a list of pairs, those that stay untouched."""
    if old and not new:
        yield drop("lines", key)
        return
    kept = list(new)
    for k in range(len(old) - 1, -1, -1):
        if old[k] in kept:
            kept.remove(old[k])
        else:
            yield drop("lines", key, k)
    for pair in kept:
        yield put("lines", key, value=list(pair))


def pressed(document: Reading, edit: Mapping[str, Any]) -> Iterator[Edit]:
    """Press a seam by a rule of its own, or by that of its block or the design (null)."""
    rule = edit.get("rule")
    top, press = document.top, document.design.press
    seams = _Seams(top)
    pairs, asked = seams.asked(edit)
    written = document.raw.get("press", {}).get("seams", [])
    sets = [seams.of(s.between, f"press.seams[{k + 1}].between") for k, s in enumerate(press.seams)]
    same = [k for k, mine in enumerate(sets) if mine == asked]
    if rule is not None and same and not any(mine & asked for mine in sets[same[-1] + 1 :]):
        yield set_value("press", "seams", same[-1], "press", value=rule)
        return
    more: list[tuple[_Pair, object]] = []
    gone = 0
    for k in range(len(sets) - 1, -1, -1):
        part = sets[k] & asked
        if not part or (part != sets[k] and rule is not None):
            continue
        gone += 1
        if gone == len(sets) and rule is None and part == sets[k] and not more:
            yield drop("press", "seams")
            break
        yield drop("press", "seams", k)
        for pair in reversed(seams.names(sets[k] - asked)):
            more.append((pair, written[k]["press"]))
            yield put(
                "press", "seams", at=k, value={"between": list(pair), "press": written[k]["press"]}
            )
    if rule is not None:
        for pair in pairs:
            yield put("press", "seams", value={"between": list(pair), "press": rule})
