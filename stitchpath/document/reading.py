"""A design file read: its text and data, the design and the top that it comes to, or why not."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, time
from functools import cached_property
from itertools import groupby
from math import isfinite
from pathlib import Path
from typing import Any, NamedTuple, Self

from stitchpath.base.errors import StitchpathError
from stitchpath.design.drawings.door import read_file
from stitchpath.design.model import Design
from stitchpath.design.read import FILE_LIMIT, design_from_text
from stitchpath.document.lines_hold import refuse_lines
from stitchpath.document.problem import path_in
from stitchpath.top.build import Top, build_top, darkness

__all__ = ["BOM", "Problem", "Reading"]

BOM = "\ufeff"
"""The mark that some programs begin a text in UTF-8 with."""


class Problem(NamedTuple):
    """What is wrong with a design: a sentence, and the field that it is about, where known."""

    sentence: str
    path: tuple[str | int, ...] | None


@dataclass(frozen=True, eq=False)
class Reading:
    """A design file as text, and what it comes to; a value that is never changed.

    Attributes
    ----------
    text
        The TOML as it stands in the file.
    source
        What to call it in errors, such as its file.
    folder
        Where files that it names lie.
    outside
        Whether they may lie outside that folder.
    """

    text: str
    source: str = "the design"
    folder: Path = Path()
    outside: bool = False
    profile: Mapping[str, Mapping[str, Any]] | None = None
    """From `read_profile`: what holds where the design leaves it open."""
    kept: tuple[Design, Top] | None = None
    """A design before and its top: where only lines change, the top is the same."""

    @classmethod
    def read(cls, path: str | Path, *, outside: bool = False) -> Self:
        """Read a design file; it need not be sound, but a text.

        Raises
        ------
        StitchpathError
            When it cannot be opened, is too large, or no text in UTF-8.
        """
        path = Path(path)
        data = read_file(path, "", "a design file in TOML", FILE_LIMIT)
        try:
            text = data.decode("utf-8")
        except UnicodeDecodeError as error:
            raise StitchpathError(
                f"{path}: found a byte that is no UTF-8 at place {error.start}, expected a text "
                "file"
            ) from None
        return cls(text, str(path), path.parent, outside)

    @cached_property
    def raw(self) -> dict[str, Any]:
        """The data as TOML gives it; empty where the text is no TOML."""
        try:
            return tomllib.loads(self.text.removeprefix(BOM))
        except (ValueError, RecursionError):
            return {}

    @cached_property
    def data(self) -> dict[str, Any]:
        """The design as plain JSON, as written."""
        plain: dict[str, Any] = _plain(self.raw)
        return plain

    @cached_property
    def design(self) -> Design:
        """The design, checked key by key.

        Raises
        ------
        StitchpathError
            When it is none.
        """
        text = self.text.removeprefix(BOM)
        return design_from_text(
            text, self.source, self.folder, outside=self.outside, profile=self.profile
        )

    @cached_property
    def top(self) -> Top:
        """Its finished top.

        Raises
        ------
        StitchpathError
            When it makes none.
        """
        design = self.design
        if self.kept is None or not _same_top(design, self.kept[0]):
            return build_top(design)
        top = self.kept[1]
        if design.name == top.name and design.fabrics == self.kept[0].fabrics:
            return top
        return replace(top, name=design.name, fabrics=design.fabrics)

    @cached_property
    def lines_problem(self) -> Problem | None:
        """What keeps a top that is sound from having its lines, as far as names tell."""
        try:
            refuse_lines(self.design, self.top)
        except StitchpathError as error:
            return self._told(error)
        return None

    def _told(self, error: StitchpathError) -> Problem:
        sentence = str(error).removeprefix(f"{self.source}: ")
        return Problem(sentence, path_in(sentence, self.raw))

    @cached_property
    def problem(self) -> Problem | None:
        """What keeps it from making a top; None where it makes one."""
        try:
            _ = self.top
        except StitchpathError as error:
            return self._told(error)
        return None


def _same_top(one: Design, other: Design) -> bool:
    """Tell whether two designs make the same top, but for its name and the shades of fabrics."""
    parts = ("unit", "blocks", "layout", "top", "press", "applique", "drawn")
    return (
        one.lines.feature == other.lines.feature
        and all(getattr(one, part) == getattr(other, part) for part in parts)
        and _same_cloth(one, other)
    )


def _same_cloth(one: Design, other: Design) -> bool:
    """Tell whether fabrics are the same, or as dark against each other as before.

    Only which of two is the darker tells how seams are pressed. What is drawn has its own fabrics.
    """
    if one.fabrics == other.fabrics:
        return True
    drawn = one.top is not None or any(block.drawing for block in one.blocks.values())
    return not drawn and _by_dark(one) == _by_dark(other)


def _by_dark(design: Design) -> list[list[str]]:
    """List the fabrics from light to dark, those that are alike together."""
    dark = {name: darkness(fabric) for name, fabric in design.fabrics.items()}
    ways = groupby(sorted(dark, key=lambda name: (dark[name], name)), key=lambda name: dark[name])
    return [list(names) for _, names in ways]


def _plain(value: Any) -> Any:  # noqa: ANN401 - as TOML gives it
    if isinstance(value, dict):
        return {key: _plain(inside) for key, inside in value.items()}
    if isinstance(value, list):
        return [_plain(inside) for inside in value]
    if isinstance(value, date | time):
        return value.isoformat()
    return f"{value}" if isinstance(value, float) and not isfinite(value) else value
