"""How much a search may do: counted in work, so that every machine stops at the same place."""

from math import inf
from time import monotonic, process_time

from stitchpath.base.errors import StitchpathError

__all__ = ["Effort", "checked_limit"]

# How many times the allowance a search may take of the processor, and of the clock on the wall,
# before a guard ends it. Far out: a machine that is slow or busy has to come to the same plan.
PROCESSOR, CLOCK = 10.0, 100.0
STARTING = 10.0  # s beside that, for what is loaded when it is first used


class Effort:
    """An allowance of seconds, spent by estimates of work.

    The estimates alone end a search, so the same input gives the same output on every machine,
    quiet or busy. They come near to the processor time of a machine of our day. Against a machine
    that cannot keep up with them at all stand two guards: the processor time of this process, and
    farther out the clock on the wall. Where a guard ends a search, `cut_off` says so.

    Parameters
    ----------
    seconds
        What may be spent.
    whole
        The allowance that this one is a part of, if any: spending counts there too.
    """

    def __init__(self, seconds: float, whole: "Effort | None" = None) -> None:
        self._left = seconds
        self._whole = whole
        self._processor = process_time() + PROCESSOR * seconds + STARTING
        self._guard = monotonic() + CLOCK * seconds + STARTING
        self._cut_off = False

    @property
    def late(self) -> bool:
        """Whether to stop."""
        if self._left <= 0:
            return True
        if self._whole is not None:
            return self._whole.late
        if process_time() >= self._processor or self.clock <= 0:
            self.cut_short()
        return self._cut_off

    @property
    def clock(self) -> float:
        """Seconds left on the clock on the wall."""
        return self._guard - monotonic() if self._whole is None else self._whole.clock

    @property
    def cut_off(self) -> bool:
        """Whether a guard has ended the search: then another run may end elsewhere."""
        return self._cut_off if self._whole is None else self._whole.cut_off

    def cut_short(self) -> None:
        """Say that a clock has ended the search."""
        if self._whole is None:
            self._cut_off = True
        else:
            self._whole.cut_short()

    def spend(self, seconds: float) -> None:
        """Count work that would take so many seconds."""
        self._left -= seconds
        if self._whole is not None:
            self._whole.spend(seconds)

    def part(self, share: float) -> "Effort":
        """Give a share of what is left."""
        return Effort(self._left * share, self)


def checked_limit(time_limit: float) -> float:
    """Give a time limit back, if it is one.

    Parameters
    ----------
    time_limit
        Seconds.

    Raises
    ------
    StitchpathError
        When it is no number of seconds.
    """
    if not 0 <= time_limit < inf:  # also refuses what is no number
        raise StitchpathError(
            f"time_limit: found {time_limit:g}, expected a number of seconds, 0 or more"
        )
    return time_limit
