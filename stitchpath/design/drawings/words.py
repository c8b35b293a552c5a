"""What may be said of a drawing: roles in words, and how loosely it may be drawn."""

from collections.abc import Mapping
from typing import get_args

from stitchpath.base.errors import StitchpathError
from stitchpath.base.typing import Role

__all__ = ["TOLERANCE", "UNKNOWN", "checked_roles"]

TOLERANCE = 0.6
"""How far ends may lie from where they are meant to, mm, where nothing is said."""
UNKNOWN = "fabric not known"
"""What a patch is said to be of where the drawing does not tell its fabric."""
_ROLES: tuple[Role, ...] = get_args(Role)
_ALSO = {"applique": "appliqué", "quilt": "quilting"}


def checked_roles(asked: Mapping[str, str]) -> dict[str, Role]:
    """Read roles as she wrote them.

    Raises
    ------
    StitchpathError
        When a role is none that there is.
    """
    found: dict[str, Role] = {}
    for key, name in asked.items():
        role = next((each for each in _ROLES if each == _ALSO.get(name, name)), None)
        if role is None:
            raise StitchpathError(
                f"found {name[:40]!r} for {key[:40]!r}, expected one of {', '.join(_ROLES)}"
            )
        found[key] = role
    return found
