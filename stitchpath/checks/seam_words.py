"""Seams as a quilter would point at them: between which patches, in which blocks."""

from collections.abc import Sequence

import numpy as np

from stitchpath.top.build import Top
from stitchpath.top.place_names import Places
from stitchpath.top.spots import Spots

__all__ = ["seam_words"]

_FEW = 6  # seams named one by one


def seam_words(
    top: Top, words: Places, pairs: Sequence[tuple[int, int]], block: str = ""
) -> list[str]:
    """Word the seams that are stitched alike.

    Parameters
    ----------
    top, words
        The top, and the words for its places.
    pairs
        The two patches of each, by index; alike in all blocks of a name.
    block
        The name of those blocks, where every one of them is meant.

    Returns
    -------
    list of str
        Such as 'the seam between "hull" and "sea" in every boat', 'the left seam between "sand" and
        "sea" in A1' where there are more of the kind.
    """
    units = list(dict.fromkeys(words.unit(one) for one, _ in pairs))
    if block and len(units) > 1:
        one, other = (f'"{words.patch(patch)}"' for patch in pairs[0])
        return [f"the {_part(top, words, pairs)}seam between {one} and {other} in every {block}"]
    told = dict.fromkeys(
        f"the {_part(top, words, [pair])}seam between {words.two(*pair)}" for pair in pairs
    )
    some = list(told)[:_FEW]
    return some + [f"{len(told) - _FEW} more like them"] * (len(told) > _FEW)


def _part(top: Top, words: Places, pairs: Sequence[tuple[int, int]]) -> str:
    """Tell in which part of its block a seam lies, where others there are called the same."""
    said = set()
    for pair in pairs:
        place = top.patches[pair[0]].place
        if top.patches[pair[1]].place != place:
            return ""
        name = sorted(map(words.patch, pair))
        alike = [
            seam for seam in top.seams
            if top.patches[seam.left].place == top.patches[seam.right].place == place
            and sorted(map(words.patch, (seam.left, seam.right))) == name
        ]  # fmt: skip
        mine = [seam.points for seam in alike if {seam.left, seam.right} == set(pair)]
        if len(mine) == len(alike):
            return ""
        middle = np.concatenate(mine)
        said.add(Spots(words).part_of((middle.min(axis=0) + middle.max(axis=0)) / 2, pair[0]))
    return f"{said.pop()} " if len(said) == 1 else ""  # turned blocks have it elsewhere
