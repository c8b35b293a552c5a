"""How much a search may do: counted in work, so that every machine stops at the same place."""

from time import monotonic

__all__ = ["Effort"]


class Effort:
    """An allowance of seconds, spent by estimates of work; the clock is only its outer guard.

    The estimates are on the high side for a machine of our day, so that the allowance runs out
    before the clock does and the same input gives the same output. On a slower machine the clock
    ends the search.

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
        self._guard = monotonic() + seconds

    @property
    def late(self) -> bool:
        """Whether to stop."""
        if self._left <= 0 or self.clock <= 0:
            return True
        return self._whole is not None and self._whole.late

    @property
    def clock(self) -> float:
        """Seconds left on the clock."""
        return self._guard - monotonic() if self._whole is None else self._whole.clock

    def spend(self, seconds: float) -> None:
        """Count work that would take so many seconds."""
        self._left -= seconds
        if self._whole is not None:
            self._whole.spend(seconds)

    def part(self, share: float) -> "Effort":
        """Give a share of what is left."""
        return Effort(self._left * share, self)
