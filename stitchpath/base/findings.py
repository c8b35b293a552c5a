"""A finding: something to know before stitching."""

import re
from dataclasses import dataclass
from typing import Literal, TypeAlias

__all__ = ["Check", "Level"]

_KEYS = re.compile(r" \([a-z_]+ = [^()]*\)")

Level: TypeAlias = Literal["error", "warning", "note"]


@dataclass(frozen=True, slots=True)
class Check:
    """Something to know before stitching.

    Attributes
    ----------
    level
        "error": it will not work as designed; "warning": it may not last or lie flat; "note".
    code
        A short name of ours, always the same for the same kind of finding.
    message
        One sentence in a quilter's words.
    at
        Where, mm from the top left corner of the top; None for the whole quilt.
    pieces
        The appliqué pieces that the message names, by number: findings that differ in nothing
        else are told as one.
    alone
        What of the message is told of one piece alone, such as its place.
    """

    level: Level
    code: str
    message: str
    at: tuple[float, float] | None = None
    pieces: tuple[int, ...] = ()
    alone: str = ""

    @property
    def plain(self) -> str:
        """The message for who writes no design by hand: without the keys that would say it."""
        return _KEYS.sub("", self.message)
