"""The designs that come with the tool."""

from functools import cache
from importlib import resources
from pathlib import Path

import stitchpath
from stitchpath.base.errors import unknown_name

__all__ = ["shipped_design", "shipped_designs"]


@cache
def _folder() -> Path | None:
    """Find them: in the package as it is installed, else beside it in the clone."""
    inside = Path(str(resources.files(stitchpath))) / "shipped"
    beside = Path(stitchpath.__file__).resolve().parents[1] / "designs"
    return next((place for place in (inside, beside) if place.is_dir()), None)


def shipped_designs() -> list[str]:
    """List their names."""
    folder = _folder()
    return [] if folder is None else sorted(path.stem for path in folder.glob("*.toml"))


def shipped_design(name: str) -> Path:
    """Tell where one lies.

    Raises
    ------
    StitchpathError
        When there is none of that name.
    """
    folder = _folder()
    if folder is None or name not in shipped_designs():
        raise unknown_name("", "shipped design", name, shipped_designs())
    return folder / f"{name}.toml"
