"""A shop's profile: machine, pace, stitching and charges of one who quilts for many, in a file."""

import os
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, ValidationError

from stitchpath.base.errors import StitchpathError
from stitchpath.design.drawings.door import read_file
from stitchpath.design.model import ChargesAsked, Machine, PaceAsked, StitchingAsked
from stitchpath.design.plain_text import plain_text
from stitchpath.design.sentences import sentence

__all__ = ["Profile", "added_by", "read_profile", "usual_profile", "with_profile"]

_LIMIT = 100_000  # bytes
_EITHER: Mapping[str, Sequence[tuple[set[str], set[str]]]] = {
    "machine": [({"depth"}, {"throat", "clearance", "bar", "rolled"})],
    "charges": [
        ({"hour"}, {"square_inch"}),
        ({"thread"}, {"thread_flat"}),
        ({"batting"}, {"batting_length"}),
    ],
}
"""Of these keys a design says the one or the other; what it says takes the other's place."""


class Profile(BaseModel):
    """What a profile may say: tables of a design, as a design says them."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    machine: Machine = Machine()
    """The machine."""
    pace: PaceAsked = PaceAsked()
    """What each step takes."""
    stitching: StitchingAsked = StitchingAsked()
    """The stitch and the thread it takes."""
    charges: ChargesAsked = ChargesAsked()
    """What is charged."""


def usual_profile() -> Path | None:
    """Find the user's own profile.

    Returns
    -------
    Path or None
        `stitchpath/profile.toml` in the user's folder for settings, by the XDG Base Directory
        Specification: `XDG_CONFIG_HOME`, and `~/.config` where that is not set, or no absolute
        path. None where there is none.
    """
    home = os.environ.get("XDG_CONFIG_HOME", "")
    folder = Path(home) if home and Path(home).is_absolute() else Path("~/.config").expanduser()
    found = folder / "stitchpath" / "profile.toml"
    return found if found.is_file() else None


def read_profile(path: str | Path) -> dict[str, dict[str, Any]]:
    """Read a profile.

    Parameters
    ----------
    path
        A TOML file.

    Returns
    -------
    dict of str to dict
        Its tables, checked; for `with_profile`.

    Raises
    ------
    StitchpathError
        When it is missing, no TOML or no profile, or a length lacks its unit; one sentence that
        names the file.
    """
    raw = read_file(Path(path), "", "a profile in TOML", _LIMIT)
    try:
        data = tomllib.loads(raw.decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:
        raise StitchpathError(
            f"{path}: found no TOML ({str(error)[:80]}), expected a profile written in TOML"
        ) from None
    plain_text(data, str(path))
    try:
        inches, mm = (_checked(data, unit) for unit in ("in", "mm"))
    except ValidationError as error:
        raise StitchpathError(f"{path}: {sentence(error, data, Profile)}") from None
    bare = _differs(inches.model_dump(), mm.model_dump())
    if bare:
        raise StitchpathError(
            f'{path}: {bare}: found a length without its unit, expected one such as "18 in"'
        )
    return data


def _checked(data: Mapping[str, Any], unit: str) -> Profile:
    return Profile.model_validate(data, context={"unit": unit})


def _differs(one: object, other: object) -> str:
    """Find the first place where two differ, as keys with dots; "" where there is none."""
    if isinstance(one, dict) and isinstance(other, dict):
        for key, value in one.items():
            if value != other.get(key):
                deeper = _differs(value, other.get(key))
                return f"{key}.{deeper}" if deeper else f"{key}"
    return ""


def with_profile(
    data: Mapping[str, Any], profile: Mapping[str, Mapping[str, Any]] | None
) -> dict[str, Any]:
    """Add to the data of a design what a profile says and the design does not.

    A machine of the other kind has nothing of the profile's, nor of its pace.

    Parameters
    ----------
    data
        As TOML gives it.
    profile
        From `read_profile`; None for none.

    Examples
    --------
    >>> shop = {"machine": {"kind": "frame", "throat": "18 in"}, "charges": {"hour": 30}}
    >>> with_profile({"machine": {"depth": "14 in"}, "charges": {"square_inch": 0.03}}, shop)
    {'machine': {'kind': 'frame', 'depth': '14 in'}, 'charges': {'square_inch': 0.03}}
    """
    found = dict(data)
    for table, usual in (profile or {}).items():
        said = found.get(table, {})
        if not isinstance(said, dict) or (
            table in ("machine", "pace") and _other_kind(data, profile or {})
        ):
            continue
        dropped: set[str] = set()
        for one, other in _EITHER.get(table, ()):
            dropped |= other if one & said.keys() else set()
            dropped |= one if other & said.keys() else set()
        kept = {key: value for key, value in usual.items() if key not in dropped}
        found[table] = {**kept, **{key: _merged(kept.get(key), said[key]) for key in said}}
    return found


def _merged(usual: object, said: object) -> object:
    """Let what is said by kind leave the other kinds as they are usual."""
    both = isinstance(usual, dict) and isinstance(said, dict)
    return {**usual, **said} if both else said  # type: ignore[dict-item]


def added_by(
    profile: Mapping[str, Mapping[str, Any]] | None, data: Mapping[str, Any]
) -> dict[str, dict[str, Any]]:
    """Give what a profile adds to the data of a design.

    Parameters
    ----------
    profile
        From `read_profile`; None for none.
    data
        As TOML gives it.

    Examples
    --------
    >>> added_by({"charges": {"hour": 30, "thread": 0.02}}, {"charges": {"thread": 0.05}})
    {'charges': {'hour': 30}}
    """
    whole = with_profile(data, profile)
    said = {table: data.get(table, {}) for table in profile or {}}
    return {
        table: {key: value for key, value in whole[table].items() if key not in asked}
        for table, asked in said.items()
        if isinstance(asked, dict) and isinstance(whole.get(table), dict)
    }


def _other_kind(data: Mapping[str, Any], profile: Mapping[str, Mapping[str, Any]]) -> bool:
    machine = data.get("machine", {})
    kind = machine.get("kind") if isinstance(machine, dict) else None
    return kind is not None and kind != profile.get("machine", {}).get("kind", "domestic")
