"""The linear program behind the router: a thin face over HiGHS that grows and sheds cuts."""

from collections.abc import Iterable
from typing import NamedTuple

import highspy
import numpy as np

from stitchpath.route.effort import Effort
from stitchpath.route.exact.cuts import Cut
from stitchpath.typing import FloatArray, IntArray

__all__ = ["Relaxation", "Solved"]

STATUS = highspy.HighsModelStatus
BASIC = highspy.HighsBasisStatus.kBasic
# Seconds that a run takes, and that each pivot takes for each row and column.
RUN, PIVOT = 1e-3, 7e-8


class _Quiet(highspy.Highs):
    """HiGHS that prints nothing, its greeting included."""

    def enableCallbacks(self) -> None:  # noqa: N802
        """Fall silent instead: the constructor calls this, no callback is used."""
        self.silent()


class Solved(NamedTuple):
    """What a run of the simplex method gave.

    Attributes
    ----------
    value
        Least price; ``inf`` if the bounds leave nothing.
    x
        Where it is reached, shape (columns,).
    reduced
        Reduced prices, shape (columns,).
    finished
        False if a limit stopped the run: then `value` proves nothing.
    """

    value: float
    x: FloatArray
    reduced: FloatArray
    finished: bool

    @property
    def bound(self) -> float:
        """What is proven: the least price, or nothing if the run was stopped."""
        return self.value if self.finished else -np.inf


class Relaxation:
    """Minimise ``price @ x`` over ``lower <= x <= upper`` and the cuts so far.

    Parameters
    ----------
    price
        Price of each column, shape (columns,).
    """

    def __init__(self, price: FloatArray) -> None:
        self.columns = 0
        self._every = np.zeros(0, dtype=np.int32)
        self._rows: list[Cut] = []
        self._seen: set[Cut] = set()
        self._idle: IntArray = np.zeros(0, dtype=np.int64)
        self._highs = highs = _Quiet()  # type: ignore[no-untyped-call]
        for option, value in (
            ("threads", 1),
            ("presolve", "off"),
            ("solver", "simplex"),
            ("random_seed", 0),
        ):
            highs.setOptionValue(option, value)
        self.widen(price, 1.0)

    @property
    def rows(self) -> int:
        """Number of cuts in the program."""
        return len(self._rows)

    def widen(self, price: FloatArray, most: float) -> None:
        """Add columns from 0 to `most`, in no cut so far."""
        more = np.arange(self.columns, self.columns + len(price), dtype=np.int32)
        self._highs.addVars(len(price), np.zeros(len(price)), np.full(len(price), most))
        self._highs.changeColsCost(len(price), more, price)
        self._every = np.concatenate([self._every, more])
        self.columns = len(self._every)

    def add(self, cuts: Iterable[Cut]) -> int:
        """Add cuts that are not there yet; say how many were new."""
        fresh = [cut for cut in dict.fromkeys(cuts) if cut not in self._seen]
        if fresh:
            self._seen.update(fresh)
            self._rows += fresh
            start = np.cumsum([0, *(len(cut.columns) for cut in fresh)], dtype=np.int32)
            self._highs.addRows(
                len(fresh),
                np.array([cut.floor for cut in fresh]),
                np.full(len(fresh), np.inf),
                int(start[-1]),
                start[:-1],
                np.concatenate([cut.columns for cut in fresh]).astype(np.int32),
                np.concatenate([cut.values for cut in fresh]),
            )
            self._idle = np.concatenate([self._idle, np.zeros(len(fresh), dtype=np.int64)])
        return len(fresh)

    @property
    def cuts(self) -> list[Cut]:
        """The cuts in the program."""
        return self._rows

    def slack(self, x: FloatArray) -> float:
        """Give what a point leaves of the cut it keeps to least; negative if it breaks one.

        Parameters
        ----------
        x
            The first columns; cuts that have others too are passed over.
        """
        rows = [cut for cut in self._rows if cut.columns and cut.columns[-1] < len(x)]
        if not rows:
            return np.inf
        size = np.array([len(cut.columns) for cut in rows])
        values = np.concatenate([cut.values for cut in rows])
        terms = values * x[np.concatenate([cut.columns for cut in rows])]
        sums = np.add.reduceat(terms, np.cumsum(size) - size)
        return float((sums - np.array([cut.floor for cut in rows])).min())

    def bound(self, lower: FloatArray, upper: FloatArray) -> None:
        """Set the bounds of all columns."""
        self._highs.changeColsBounds(self.columns, self._every, lower, upper)

    def solve(self, effort: Effort, *, pivots: int = 2**31 - 1) -> Solved:
        """Run the simplex method from where it stands."""
        highs = self._highs
        highs.setOptionValue("simplex_iteration_limit", pivots)
        highs.setOptionValue("time_limit", highs.getRunTime() + max(effort.clock, 0.0))
        highs.run()
        status = highs.getModelStatus()
        if status == STATUS.kTimeLimit:
            effort.cut_short()
        info = highs.getInfo()
        done = max(info.simplex_iteration_count, 0)
        effort.spend(RUN + PIVOT * done * (self.columns + self.rows))
        if status in (STATUS.kInfeasible, STATUS.kUnboundedOrInfeasible):  # no price is negative
            none = np.zeros(self.columns)
            return Solved(np.inf, none, none, finished=True)
        solution = highs.getSolution()
        return Solved(
            info.objective_function_value,
            np.array(solution.col_value),
            np.array(solution.col_dual),
            status == STATUS.kOptimal,
        )

    def basis(self) -> highspy.HighsBasis:
        """Give the basis the last run ended with."""
        return self._highs.getBasis()

    def restart(self, basis: highspy.HighsBasis) -> None:
        """Go back to a basis; cuts that are newer than it count as slack."""
        missing = self.rows - len(basis.row_status)
        if missing:
            basis.row_status = list(basis.row_status) + [BASIC] * missing
        self._highs.setBasis(basis)

    def shed(self, patience: int) -> None:
        """Take out cuts that have been slack more than `patience` times this was called."""
        basis = self._highs.getBasis()
        rows = basis.row_status  # a copy each time it is asked for
        slack = np.array([status == BASIC for status in rows], dtype=bool)
        self._idle = np.where(slack, self._idle + 1, 0)
        gone = self._idle > patience
        if not gone.any():
            return
        self._highs.deleteRows(int(gone.sum()), np.flatnonzero(gone).astype(np.int32))
        left = np.flatnonzero(~gone)
        self._idle = self._idle[left]
        self._seen -= {self._rows[row] for row in np.flatnonzero(gone).tolist()}
        self._rows = [self._rows[row] for row in left.tolist()]
        basis.row_status = [rows[row] for row in left.tolist()]
        self._highs.setBasis(basis)
