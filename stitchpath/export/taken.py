"""A picture of what was taken of a drawing: roles in colours, each healed place ringed."""

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch

from stitchpath.base.errors import StitchpathError
from stitchpath.base.typing import FloatArray, Role
from stitchpath.design.drawings.whole import Guess
from stitchpath.design.drawings.words import UNKNOWN
from stitchpath.export.compound_path import compound_path
from stitchpath.export.picture import own_style, picture_bytes
from stitchpath.told.drawing import HEALED
from stitchpath.top.build import Top
from stitchpath.top.place import row_letter

__all__ = ["draw_taken"]

_COLOURS: dict[Role, str] = {
    "patch": "#555555",
    "seam": "#101010",
    "edge": "#101010",
    "appliqué": "#7a4a9c",
    "quilting": "#1f6fb4",
    "guide": "#2f8f5f",
    "leave out": "#b0b0b0",
}
_HEALED = "#c2185b"
_RING = 0.012  # of the longer side
_NAMED = 400  # patches: more names would not be read
_NUMBERED = 300  # rings: more numbers would not be read
_LONG = 9.0  # in


@own_style()
def draw_taken(top: Top, kind: str) -> bytes:
    """Draw what was taken of the drawing of a top.

    Patches are tinted with their fabrics and named, shapes drawn in the colour of their role,
    those in doubt dotted. Each place that was healed is ringed and numbered from the top; lines
    that enclose nothing are drawn thick.

    Parameters
    ----------
    top
        A drawn top.
    kind
        "png" or "svg".

    Raises
    ------
    StitchpathError
        When the top is not drawn.
    """
    taken = top.taken
    if taken is None:
        raise StitchpathError("found a top of blocks, expected one from a drawing")
    long = max(top.width, top.height)
    figure = Figure(figsize=(_LONG * top.width / long + 0.6, _LONG * top.height / long + 1.2))
    axes = figure.add_axes((0.06, 0.14, 0.92, 0.82))
    pad = 0.04 * long
    axes.set_xlim(-pad, top.width + pad)
    axes.set_ylim(top.height + pad, -pad)
    axes.set_aspect("equal")
    axes.axis("off")
    for fabric, spec in top.fabrics.items():
        shapes = [p.polygon for p in top.patches if p.fabric == fabric]
        rings = [shapely.get_coordinates(r) for r in shapely.get_rings(shapes)] if shapes else []
        if rings:
            tint = 0.5 * np.array(to_rgb(spec.colour)) + 0.5
            path = compound_path(rings, closed=True)
            axes.add_artist(PathPatch(path, fc=tuple(tint), ec="#777777", linewidth=0.4))
    shown: dict[Role, None] = {}
    for guess in taken.guesses:
        shown[guess.role] = None
        _shapes(axes, guess)
    if len(top.patches) <= _NAMED:
        for patch in top.patches:
            point = patch.polygon.representative_point()
            name = patch.name if patch.fabric != UNKNOWN else patch.name.removeprefix("patch ")
            axes.text(
                point.x, point.y, name, ha="center", va="center", fontsize=4.5, color="#222222"
            )
    if taken.loose:
        axes.add_artist(
            PathPatch(
                compound_path(list(taken.loose), closed=False), fc="none", ec=_HEALED,
                linewidth=2.4, zorder=3,
            )
        )  # fmt: skip
    _rings(axes, top, _RING * long)
    _rulers(axes, top, pad)
    doubtful = any(guess.doubtful for guess in taken.guesses)
    healed = [said for cause, said in HEALED.items() if any(m.cause == cause for m in taken.mended)]
    noted = [f"ringed: healed ({'; '.join(healed)})"] if healed else []
    noted += ["thick: left out, encloses nothing"] if taken.loose else []
    _legend(figure, list(shown), noted, doubtful=doubtful)
    return picture_bytes(figure, kind)


def _shapes(axes: Axes, guess: Guess) -> None:
    lines = [line for line in guess.lines if len(line) > 1]
    if not lines:
        return
    style = (0, (1, 1.2)) if guess.doubtful else "solid"
    width = 0.7 if guess.role in ("patch", "leave out") else 1.2
    axes.add_artist(
        PathPatch(
            compound_path(lines, closed=False), fc="none", ec=_COLOURS[guess.role],
            linewidth=width, linestyle=style, zorder=2,
        )
    )  # fmt: skip


def _rings(axes: Axes, top: Top, radius: float) -> None:
    taken = top.taken
    mended = taken.mended if taken else ()
    if not mended:
        return
    turn = np.linspace(0, 2 * np.pi, 33)
    ring: FloatArray = radius * np.column_stack([np.cos(turn), np.sin(turn)])
    rings = [ring + np.array(m.at) for m in mended]
    axes.add_artist(
        PathPatch(compound_path(rings, closed=True), fc="none", ec=_HEALED, linewidth=0.8, zorder=3)
    )
    for number, each in enumerate(mended[:_NUMBERED], 1):
        axes.text(
            each.at[0] + radius, each.at[1] - radius, f"{number}", fontsize=4.5, color=_HEALED
        )


def _rulers(axes: Axes, top: Top, pad: float) -> None:
    for window in top.windows:
        x, y = window.corners.mean(axis=0)
        if window.place.row == 0 and window.place.column >= 0:
            axes.text(x, -0.6 * pad, f"{window.place.column + 1}", ha="center", fontsize=8)
        if window.place.column == 0:
            axes.text(-0.6 * pad, y, row_letter(window.place.row), va="center", fontsize=8)


def _legend(figure: Figure, roles: list[Role], noted: list[str], *, doubtful: bool) -> None:
    x = 0.03
    for role in roles:
        figure.text(x, 0.07, role, color=_COLOURS[role], fontsize=8, fontweight="bold")
        x += 0.018 * len(role) + 0.02
    if doubtful:
        figure.text(x, 0.07, "dotted: in doubt", color="#555555", fontsize=8)
    figure.text(0.03, 0.035, "; ".join(noted), color=_HEALED, fontsize=6.5)
