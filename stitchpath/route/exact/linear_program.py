"""The linear programs behind the router: a thin face over HiGHS that grows and sheds cuts."""

from abc import ABC, abstractmethod
from collections.abc import Hashable, Iterable, Sequence
from typing import Generic, NamedTuple, Protocol, TypeVar

import highspy
import numpy as np

from stitchpath.base.typing import FloatArray, IntArray
from stitchpath.route.effort import Effort
from stitchpath.route.exact.cuts import Cut

__all__ = ["Relaxation", "Simplex", "Solved"]

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


class _Cutting(Protocol):
    """The inequality ``values @ x[columns] >= floor``."""

    @property
    def columns(self) -> Sequence[int] | IntArray: ...
    @property
    def values(self) -> Sequence[float] | FloatArray: ...
    @property
    def floor(self) -> float: ...


_C = TypeVar("_C", bound=_Cutting)


class Simplex(ABC, Generic[_C]):
    """HiGHS with cuts that come and go, run by the simplex method, the same on every machine.

    Parameters
    ----------
    held
        Number of rows that always stay; they come before all cuts.

    Attributes
    ----------
    columns
        Number of columns.
    cuts
        The cuts in the program.
    """

    def __init__(self, held: int = 0) -> None:
        self.columns = 0
        self.cuts: list[_C] = []
        self._held = held
        self._every = np.zeros(0, dtype=np.int32)
        self._seen: set[Hashable] = set()
        self._idle: IntArray = np.zeros(0, dtype=np.int64)
        self._highs = highs = _Quiet()  # type: ignore[no-untyped-call]
        for option, value in (
            ("threads", 1),
            ("presolve", "off"),
            ("solver", "simplex"),
            ("random_seed", 0),
        ):
            highs.setOptionValue(option, value)

    @abstractmethod
    def _key(self, cut: _C) -> Hashable:
        """Give what tells a cut from others."""

    @abstractmethod
    def _work(self, pivots: int) -> float:
        """Tell how many seconds a run with so many pivots takes."""

    def _widen(self, price: FloatArray, lower: FloatArray, upper: FloatArray) -> None:
        """Add columns, in no row so far."""
        more = np.arange(self.columns, self.columns + len(price), dtype=np.int32)
        self._highs.addVars(len(price), lower, upper)
        self._highs.changeColsCost(len(price), more, price)
        self._every = np.concatenate([self._every, more])
        self.columns = len(self._every)

    def add(self, cuts: Iterable[_C]) -> int:
        """Add cuts that are not there yet; say how many were new."""
        found = {self._key(cut): cut for cut in cuts}
        fresh = [cut for key, cut in found.items() if key not in self._seen]
        if fresh:
            self._seen.update(found)
            self.cuts += fresh
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
        effort.spend(self._work(max(info.simplex_iteration_count, 0)))
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
        missing = self._held + len(self.cuts) - len(basis.row_status)
        if missing:
            basis.row_status = list(basis.row_status) + [BASIC] * missing
        self._highs.setBasis(basis)

    def shed(self, patience: int) -> None:
        """Take out cuts that have been slack more than `patience` times this was called."""
        held = self._held
        basis = self._highs.getBasis()
        rows = basis.row_status  # a copy each time it is asked for
        slack = np.array([status == BASIC for status in rows[held:]], dtype=bool)
        self._idle = np.where(slack, self._idle + 1, 0)
        gone = self._idle > patience
        if not gone.any():
            return
        numbers, left = np.flatnonzero(gone), np.flatnonzero(~gone)
        self._highs.deleteRows(len(numbers), (held + numbers).astype(np.int32))
        self._idle = self._idle[left]
        self._seen -= {self._key(self.cuts[row]) for row in numbers.tolist()}
        self.cuts = [self.cuts[row] for row in left.tolist()]
        basis.row_status = [*rows[:held], *(rows[held + row] for row in left.tolist())]
        self._highs.setBasis(basis)


class Relaxation(Simplex[Cut]):
    """Minimise ``price @ x`` over ``lower <= x <= upper`` and the cuts so far.

    Parameters
    ----------
    price
        Price of each column, shape (columns,).
    """

    def __init__(self, price: FloatArray) -> None:
        super().__init__()
        self.widen(price, 1.0)

    @property
    def rows(self) -> int:
        """Number of cuts in the program."""
        return len(self.cuts)

    def widen(self, price: FloatArray, most: float) -> None:
        """Add columns from 0 to `most`, in no cut so far."""
        self._widen(price, np.zeros(len(price)), np.full(len(price), most))

    def _key(self, cut: Cut) -> Hashable:
        return cut

    def _work(self, pivots: int) -> float:
        return RUN + PIVOT * pivots * (self.columns + self.rows)

    def slack(self, x: FloatArray) -> float:
        """Give what a point leaves of the cut it keeps to least; negative if it breaks one.

        Parameters
        ----------
        x
            The first columns; cuts that have others too are passed over.
        """
        rows = [cut for cut in self.cuts if cut.columns and cut.columns[-1] < len(x)]
        if not rows:
            return np.inf
        size = np.array([len(cut.columns) for cut in rows])
        values = np.concatenate([cut.values for cut in rows])
        terms = values * x[np.concatenate([cut.columns for cut in rows])]
        sums = np.add.reduceat(terms, np.cumsum(size) - size)
        return float((sums - np.array([cut.floor for cut in rows])).min())
