"""The linear program of a model: rows that always hold, and cuts that come and go."""

from collections.abc import Hashable

import numpy as np

from stitchpath.route.exact.linear_program import Simplex
from stitchpath.route.passages.model import Model, Row

__all__ = ["Program"]

# Seconds that a run takes for each row and column, and that each pivot takes, and for each of them.
RUN, PIVOT, EACH = 5e-7, 2e-5, 1e-10


class Program(Simplex[Row]):
    """Minimise what a model costs over its rows and the cuts so far.

    Parameters
    ----------
    model
        What is minimised.
    """

    def __init__(self, model: Model) -> None:
        super().__init__(held=model.ends)
        self._widen(model.price, model.lower, model.upper)
        self._highs.changeObjectiveOffset(model.constant)
        rows, none = model.rows, np.zeros(model.ends)
        self._highs.addRows(
            model.ends,
            none,
            none,
            rows.nnz,
            rows.indptr[:-1].astype(np.int32),
            rows.indices.astype(np.int32),
            rows.data,
        )

    def _key(self, cut: Row) -> Hashable:
        return cut.key

    def _work(self, pivots: int) -> float:
        size = self.columns + self._held + len(self.cuts)
        return RUN * size + (PIVOT + EACH * size) * pivots
