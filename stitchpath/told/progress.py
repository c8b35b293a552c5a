"""How far a search is, as a share and in words."""

__all__ = ["Search"]


class Search:
    """Follows the search for a route: the first gap of what is searched is the whole of the way."""

    def __init__(self) -> None:
        self._label, self._first = "", 0.0

    def heard(self, label: str, cost: float, bound: float) -> tuple[float, str]:
        """Take in what the search tells.

        Parameters
        ----------
        label
            What is being searched.
        cost, bound
            Of the best route so far, and what none costs less than; seconds or mm.

        Returns
        -------
        share, words : float, str
            How much of the first gap is closed, 0 to 1; and how large it is now.
        """
        gap = cost - bound
        if label != self._label:
            self._label, self._first = label, gap
        self._first = max(self._first, gap)  # a search may begin with a bound that it gives up
        share = 1 - gap / self._first if self._first else 1.0
        return share, f"{100 * gap / cost if cost else 0:.2f} % over the bound"

    def restart(self) -> None:
        """Forget what was searched: something else is being done."""
        self._label = ""
