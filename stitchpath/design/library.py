"""The block library: traditional blocks under their trade names, one TOML file each."""

import tomllib
from functools import cache
from importlib import resources

from stitchpath.base.errors import unknown_name
from stitchpath.design.model import LibraryBlock

__all__ = ["library_block", "library_names"]


@cache
def library_names() -> tuple[str, ...]:
    """List the names of the library's blocks, in alphabetical order."""
    return tuple(sorted(_load(stem).name for stem in _stems()))


def library_block(name: str, where: str) -> LibraryBlock:
    """Find a block of the library by its trade name.

    Parameters
    ----------
    name
        Such as "sawtooth star"; case, dashes and apostrophes do not matter.
    where
        The place in the design, for errors.

    Raises
    ------
    StitchpathError
        When there is no such block; it names the nearest one.
    """
    stem = _stem(name)
    if stem not in _stems():
        raise unknown_name(where, "library block", name, library_names())
    return _load(stem)


def _stem(name: str) -> str:
    return "-".join(name.lower().replace("'", "").replace("’", "").replace("-", " ").split())  # noqa: RUF001


@cache
def _stems() -> frozenset[str]:
    folder = resources.files("stitchpath.design") / "blocks"
    return frozenset(f.name.removesuffix(".toml") for f in folder.iterdir())


@cache
def _load(stem: str) -> LibraryBlock:
    text = (resources.files("stitchpath.design") / "blocks" / f"{stem}.toml").read_text("utf-8")
    return LibraryBlock.model_validate(tomllib.loads(text), context={"unit": "in"})
