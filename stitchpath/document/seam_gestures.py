"""Seams stitched or left out, and pressed: one, all round or within a part, or all such."""

from collections.abc import Hashable, Iterator, Mapping, Sequence
from functools import cached_property
from typing import Any

from stitchpath.base.errors import StitchpathError, shown, unknown_name
from stitchpath.design.model import Lines
from stitchpath.document.asked import Edit, drop, put, set_value, text, texts
from stitchpath.document.reading import Reading
from stitchpath.lines.ditch import chosen_seams
from stitchpath.top.build import Top, find_patches, pair_seams

__all__ = ["pressed", "seam_kinds", "stitched", "such_name", "such_names"]

_Pair = tuple[str, str]
_MOST = 400  # seams named one by one
_WAYS = ("between", "round", "within")
"""How an edit says which seams it means: two patches, or what they lie round or within."""


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


def seam_kinds(top: Top) -> list[Hashable]:
    """Give for each seam its kind: those of one kind are "all such".

    Within a block it goes by the patches of the block; else by what lies on either side, of which
    all sashing is of one kind, and so is each border.
    """
    names = such_names(top)

    def side(i: int) -> Hashable:
        patch = top.patches[i]
        return names[i] if patch.part == "block" else (patch.part, patch.place.number)

    places = [patch.place if patch.part == "block" else None for patch in top.patches]
    return [
        (
            places[seam.left] is not None and places[seam.left] == places[seam.right],
            frozenset((side(seam.left), side(seam.right))),
        )
        for seam in top.seams
    ]


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
        ways = [way for way in _WAYS if way in edit]
        if len(ways) != 1:
            raise StitchpathError(
                f"{edit['op']}: found {' and '.join(ways) or 'no seam'}, expected one of "
                "between, round and within"
            )
        if ways == ["between"]:
            one, other = texts(edit, "between", 2)
            return self._such((one, other), edit)
        mine = set(self.part(edit))
        if ways == ["round"]:
            meant = [k for k, (a, b) in enumerate(self.sides) if (a in mine) != (b in mine)]
        else:
            meant = [k for k, (a, b) in enumerate(self.sides) if a in mine and b in mine]
        if not meant:
            raise StitchpathError(
                f"{edit['op']}: found no seam {ways[0]} {edit[ways[0]]}, expected one or more"
            )
        pairs: dict[_Pair, None] = {}
        seams: frozenset[int] = frozenset()
        for k in meant:
            if k not in seams:
                more, alike = self._such(self.names(frozenset([k]))[0], edit)
                pairs |= dict.fromkeys(more)
                seams |= alike
        self._few(len(pairs))
        return list(pairs), seams

    def part(self, edit: Mapping[str, Any]) -> tuple[int, ...]:
        """List the patches of a part of the top: a patch, a block or a border, by its name."""
        name = text(edit, "round" if "round" in edit else "within")
        if name in self.index:
            return self.index[name]
        top = self.top
        places = [
            block.place
            for block in (*top.compounds, *top.blocks)
            if name in (block.place.name, *block.called)
        ]
        found = tuple(
            i
            for i, patch in enumerate(top.patches)
            if any(patch.place == place or patch.place.lies_in(place) for place in places)
            or (patch.part == "border" and name == f"border {patch.place.number}")
        )
        if not found:
            known = {block.place.name: None for block in (*top.compounds, *top.blocks)}
            raise unknown_name(edit["op"], "part", name, [*known, *self.index])
        return found

    def _such(self, pair: _Pair, edit: Mapping[str, Any]) -> tuple[list[_Pair], frozenset[int]]:
        """Give the seams of a pair, or all such."""
        seams = self.of(pair, edit["op"])
        if not edit.get("such"):
            return [pair], seams
        patches = self.top.patches
        left, right = (patches[i] for i in self.sides[min(seams)])
        if left.place == right.place and left.part == "block":
            names = such_names(self.top)
            one, other = (names[i] for i in self.sides[min(seams)])
            alike = self.of((one, other), edit["op"])
            return [(one, other)], alike | seams
        return self._between_units(min(seams), seams)

    def toward(
        self, pairs: Sequence[_Pair], edit: Mapping[str, Any], *, out: bool
    ) -> list[tuple[_Pair, str]]:
        """Give for each pair the rule that presses it toward a part, or away from it.

        Between two patches of one fabric no rule tells one side from the other.
        """
        if "round" not in edit:
            raise StitchpathError(
                f"press: found {shown(edit['rule'])}, expected it of what lies round a part"
            )
        names, part = such_names(self.top), self.part(edit)
        kinds = {names[i] for i in part}
        mine = set(part)
        if edit.get("such"):
            mine |= {i for i, name in enumerate(names) if name in kinds}
        rules = []
        for pair in pairs:
            first, second = (self.index[name][0] for name in pair)
            side = first if (not mine.isdisjoint(self.index[pair[0]])) != out else second
            fabrics = [self.top.patches[i].fabric for i in (first, second)]
            if fabrics[0] != fabrics[1]:
                rules.append((pair, f"toward {self.top.patches[side].fabric}"))
        if not rules:
            raise StitchpathError(
                "press: found the same fabric on both sides, expected two: by its fabrics such a "
                "seam is pressed to neither side"
            )
        return rules

    @staticmethod
    def _few(many: int) -> None:
        if many > _MOST:
            raise StitchpathError(
                f"found {many} seams like this one, expected at most {_MOST} to be named one "
                'by one: say it for all, as with ditch = "blocks" under lines'
            )

    def _between_units(
        self, like: int, seams: frozenset[int]
    ) -> tuple[list[_Pair], frozenset[int]]:
        """List the seams that lie between units of the same kinds."""
        kinds = self.kinds
        alike = frozenset(k for k, kind in enumerate(kinds) if kind == kinds[like])
        pairs = self.names(alike | seams)
        self._few(len(pairs))
        return pairs, alike | seams

    @cached_property
    def kinds(self) -> list[Hashable]:
        return seam_kinds(self.top)


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
    """Press seams by a rule of their own, or by that of their block or the design (null).

    Round a part, "in" presses each toward the part and "out" away from it.
    """
    rule = edit.get("rule")
    top, press = document.top, document.design.press
    seams = _Seams(top)
    pairs, asked = seams.asked(edit)
    if rule in ("in", "out"):
        rules = seams.toward(pairs, edit, out=rule == "out")
    else:
        rules = [(pair, rule) for pair in pairs if rule is not None]
    written = document.raw.get("press", {}).get("seams", [])
    sets = [seams.of(s.between, f"press.seams[{k + 1}].between") for k, s in enumerate(press.seams)]
    same = [k for k, mine in enumerate(sets) if mine == asked]
    if (
        rules
        and len(set(map(str, dict(rules).values()))) == 1
        and same
        and not any(mine & asked for mine in sets[same[-1] + 1 :])
    ):
        yield set_value("press", "seams", same[-1], "press", value=rules[0][1])
        return
    if rule is None and sets and all(mine <= asked for mine in sets):
        yield drop("press", "seams")
        return
    for k in range(len(sets) - 1, -1, -1):
        part = sets[k] & asked
        if not part or (part != sets[k] and rule is not None):
            continue
        yield drop("press", "seams", k)
        for pair in reversed(seams.names(sets[k] - asked)):
            yield put(
                "press", "seams", at=k, value={"between": list(pair), "press": written[k]["press"]}
            )
    for pair, way in rules:
        yield put("press", "seams", value={"between": list(pair), "press": way})
