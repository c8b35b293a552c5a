"""A quilt that would take less time loaded the other way."""

from collections.abc import Iterator

from stitchpath.base.findings import Check
from stitchpath.base.units import Unit, format_length
from stitchpath.design.model import Machine
from stitchpath.lines.frame.loading import Loading

__all__ = ["check_loading"]

_LEAST = 60.0  # s: less is not worth a word


def check_loading(loading: Loading | None, machine: Machine, unit: Unit) -> Iterator[Check]:
    """Tell what the other way would save.

    Parameters
    ----------
    loading
        Of a plan; None out of a frame.
    machine
        As it is asked for.
    unit
        Of the design.
    """
    if loading is None or len(loading.windows) < len(loading.wide):
        return
    other = loading.other
    saved = loading.seconds[loading.way] - loading.seconds[other]
    if saved < _LEAST:
        return
    wide = format_length(loading.wide[other], unit)
    cure = f'Say loaded = "{other}" under [machine].'
    if machine.width is None:
        cure = (
            "Say how wide a backing your frame takes (width under [machine]), or say loaded = "
            f'"{other}" there.'
        )
    yield Check(
        "note",
        "loaded",
        f"Loaded {other} it would take about {round(saved / 60)} min less, with "
        f"{loading.windows[other]} windows instead of {loading.windows[loading.way]}: the backing "
        f"is {wide} wide then. {cure}",
    )
