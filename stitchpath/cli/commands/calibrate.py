"""The command thread calibrate."""

from stitchpath.base.errors import StitchpathError
from stitchpath.cli.screen import say
from stitchpath.thread import measured_ratio, parse_sample
from stitchpath.told.thread_tables import ratio_text

__all__ = ["run"]


def run(sample: list[str], per_inch: float | None) -> None:
    """Work out her own ratio from lengths unpicked and measured."""
    samples = [parse_sample(text) for text in sample]
    if per_inch is not None and not 0 < per_inch < float("inf"):
        raise StitchpathError(f"--per-inch: found {per_inch:g}, expected a number over 0")
    ratio = measured_ratio(samples, per_inch / 25.4 if per_inch is not None else None)
    say(ratio_text(ratio, len(samples)))
