"""The linear program of a model: rows that always hold, and cuts that come and go."""

from collections.abc import Iterable

import highspy
import numpy as np

from stitchpath.route.effort import Effort
from stitchpath.route.exact.linear_program import STATUS, Solved
from stitchpath.route.passages.model import Model, Row
from stitchpath.typing import FloatArray

__all__ = ["Program"]

BASIC = highspy.HighsBasisStatus.kBasic
# Seconds that a run takes for each row and column, and that each pivot takes, and for each of them.
RUN, PIVOT, EACH = 5e-7, 2e-5, 1e-10


class _Quiet(highspy.Highs):
    """HiGHS that prints nothing, its greeting included."""

    def enableCallbacks(self) -> None:  # noqa: N802
        """Fall silent instead: the constructor calls this, no callback is used."""
        self.silent()


class Program:
    """Minimise what a model costs over its rows and the cuts so far.

    Parameters
    ----------
    model
        What is minimised.
    """

    def __init__(self, model: Model) -> None:
        self.model = model
        self.runs = 0
        self.cuts: list[Row] = []
        self._seen: set[bytes] = set()
        self._idle = np.zeros(0, dtype=np.int64)
        self._highs = highs = _Quiet()  # type: ignore[no-untyped-call]
        for option, value in (
            ("threads", 1),
            ("presolve", "off"),
            ("solver", "simplex"),
            ("random_seed", 0),
        ):
            highs.setOptionValue(option, value)
        columns = model.columns
        self._every = np.arange(columns, dtype=np.int32)
        highs.addVars(columns, model.lower, model.upper)
        highs.changeColsCost(columns, self._every, model.price)
        highs.changeObjectiveOffset(model.constant)
        rows = model.rows
        none = np.zeros(model.ends)
        highs.addRows(
            model.ends,
            none,
            none,
            rows.nnz,
            rows.indptr[:-1].astype(np.int32),
            rows.indices.astype(np.int32),
            rows.data,
        )

    def add(self, cuts: Iterable[Row]) -> int:
        """Add cuts that are not there yet; say how many were new."""
        found = {cut.key: cut for cut in cuts}
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
        self._highs.changeColsBounds(self.model.columns, self._every, lower, upper)

    def solve(self, effort: Effort, *, pivots: int = 2**31 - 1) -> Solved:
        """Run the simplex method from where it stands."""
        highs = self._highs
        highs.setOptionValue("simplex_iteration_limit", pivots)
        highs.setOptionValue("time_limit", highs.getRunTime() + max(effort.clock, 0.0))
        highs.run()
        self.runs += 1
        status = highs.getModelStatus()
        if status == STATUS.kTimeLimit:
            effort.cut_short()
        info = highs.getInfo()
        done = max(info.simplex_iteration_count, 0)
        size = self.model.columns + self.model.ends + len(self.cuts)
        effort.spend(RUN * size + (PIVOT + EACH * size) * done)
        if status in (STATUS.kInfeasible, STATUS.kUnboundedOrInfeasible):  # no price is negative
            none = np.zeros(self.model.columns)
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
        """Go back to a basis of the same rows."""
        self._highs.setBasis(basis)

    def shed(self, patience: int) -> None:
        """Take out cuts that have been slack more than `patience` times this was called."""
        held = self.model.ends
        basis = self._highs.getBasis()
        rows = basis.row_status  # a copy each time it is asked for
        slack = np.array([status == BASIC for status in rows[held:]], dtype=bool)
        self._idle = np.where(slack, self._idle + 1, 0)
        gone = self._idle > patience
        if not gone.any():
            return
        numbers = np.flatnonzero(gone)
        self._highs.deleteRows(len(numbers), (held + numbers).astype(np.int32))
        left = np.flatnonzero(~gone)
        self._idle = self._idle[left]
        self._seen -= {self.cuts[row].key for row in numbers.tolist()}
        self.cuts = [self.cuts[row] for row in left.tolist()]
        basis.row_status = rows[:held] + [rows[held + row] for row in left.tolist()]
        self._highs.setBasis(basis)
