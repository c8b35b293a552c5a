"""What holds where a design says nothing, as plain JSON: the hints beside the fields of a page."""

from dataclasses import asdict
from typing import Any

from stitchpath.design.battings import BATTINGS
from stitchpath.design.model import BackingAsked, Looks, Machine, Prices, StitchingAsked
from stitchpath.hands.pace import FRAME, Pace
from stitchpath.thread.bobbin import BOBBINS
from stitchpath.thread.sizes import FIBRE_DENSITY

__all__ = ["usual_data"]


def usual_data() -> dict[str, Any]:
    """Tell what is usual.

    Returns
    -------
    dict
        ``pace`` by kind of machine, seconds, and its speeds in mm a minute by kind of line;
        ``stitching``, ``machine``, ``backing``, ``looks`` and ``prices`` as the design has them,
        lengths in mm; names of ``bobbins``, ``fibres`` and ``battings`` to choose from.
    """
    asked = {
        "stitching": StitchingAsked(),
        "machine": Machine(),
        "backing": BackingAsked(),
        "looks": Looks(),
        "prices": Prices(),
    }
    return {
        "pace": {"domestic": _pace(Pace()), "frame": _pace(FRAME)},
        **{name: part.model_dump(mode="json") for name, part in asked.items()},
        "bobbins": list(BOBBINS),
        "fibres": list(FIBRE_DENSITY),
        "battings": [batting.name for batting in BATTINGS],
    }


def _pace(pace: Pace) -> dict[str, Any]:
    told = asdict(pace)
    for name in ("speed", "free"):
        told[name] = {kind: round(speed * 60, 1) for kind, speed in told[name].items()}
    return told
