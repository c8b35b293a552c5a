"""What does not fit through the throat of the machine, and how to turn the quilt for it."""

from collections.abc import Iterator, Sequence

from stitchpath.base.findings import Check
from stitchpath.base.units import Unit, format_length, format_place
from stitchpath.design.model import Throat
from stitchpath.thread.throat import Roll, fits

__all__ = ["check_throat"]


def check_throat(
    rolls: Sequence[tuple[str, Roll]], throat: Throat | None, unit: Unit
) -> Iterator[Check]:
    """Tell of each part that does not fit, where, and whether turning the quilt round helps.

    Parameters
    ----------
    rolls
        Runs and areas by their names, and what lies right of the needle.
    throat
        Of the machine; None where it is not said.
    unit
        Of the design.
    """
    if throat is None:
        return
    room = format_length(throat.roll, unit)
    for name, roll in rolls:
        if fits(roll.width, roll.thick, throat):
            continue
        width, thick, turned = (
            format_length(v, unit) for v in (roll.width, roll.thick, roll.turned)
        )
        if roll.turned <= throat.roll:
            cure = (
                f"Turn the quilt half round, so that the {_OPPOSITE[roll.side]} side lies right of "
                f"the needle, and stitch it from its end to its start: then the roll is {turned}."
            )
        else:
            cure = (
                "Turned round it does not fit either: quilt it in parts joined afterwards, "
                "or on a machine with more room."
            )
        yield Check(
            "warning",
            "throat",
            f"{name}: {width} of the quilt, its {roll.side} side, lie right of the needle at "
            f"{format_place(*roll.at, unit)}: a roll {thick} thick, and the throat takes {room}. "
            f"{cure}",
            roll.at,
        )


_OPPOSITE = {"left": "right", "right": "left", "top": "bottom", "bottom": "top"}
