"""The minimum T-join: the cheapest set of edges that makes every odd vertex even.

It is the Chinese postman's heart (Edmonds and Johnson 1973). In a narrow graph it is found from one
side to the other (`narrow.py`). Else PyMatching's sparse blossom finds it in near linear time; an
edge to the hub is what PyMatching calls a boundary edge.
"""

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csc_matrix

from stitchpath.base.typing import BoolArray, FloatArray, IntArray
from stitchpath.route.narrow import across, narrow_join

__all__ = ["Join", "t_join"]

# PyMatching keeps whole-number weights as they are up to this size and rounds all others.
LARGEST_WEIGHT = 2**24 - 2


@dataclass(frozen=True, slots=True)
class Join:
    """A T-join and what it proves.

    Attributes
    ----------
    chosen
        Which edges belong to it, shape (m,).
    bound
        No T-join is cheaper than this. Prices may be rounded down to whole multiples of a tiny
        step before they are matched, so this holds in spite of the rounding.
    """

    chosen: BoolArray
    bound: float


def t_join(
    vertices: int,
    tail: IntArray,
    head: IntArray,
    price: FloatArray,
    odd: BoolArray,
) -> Join:
    """Find a minimum T-join.

    Parameters
    ----------
    vertices
        Number of vertices; the number ``vertices`` itself, as a head, stands for the hub, which
        may end up with any number of edges.
    tail, head
        Edge ends, shape (m,); no self loops.
    price
        Finite and not negative, shape (m,).
    odd
        Which vertices have to get an odd number of edges, shape (vertices,).

    Returns
    -------
    Join
        The edges and a lower bound.

    Raises
    ------
    ValueError
        If some connected part without hub has an odd number of odd vertices.
    """
    if not odd.any():
        return Join(np.zeros(len(tail), dtype=bool), 0.0)
    order = across(vertices, tail, head)
    if order is not None:
        return Join(*narrow_join(order, tail, head, price, odd))
    join = _match(vertices, tail, head, price, odd)
    cost = float(price @ join.chosen)
    if join.bound < cost < price.max():
        # No better T-join has an edge this dear: capped, prices can be rounded more finely.
        again = _match(vertices, tail, head, np.minimum(price, cost), odd)
        chosen = again.chosen if price @ again.chosen < cost else join.chosen
        join = Join(chosen, max(join.bound, again.bound))
    return join


def _match(
    vertices: int, tail: IntArray, head: IntArray, price: FloatArray, odd: BoolArray
) -> Join:
    """Hand the problem to PyMatching."""
    from pymatching import Matching  # noqa: PLC0415 - loads networkx and matplotlib

    weight, step = _whole(price)
    # A column per edge holding its ends; a hub edge has one entry only.
    inner = head < vertices
    entries = np.column_stack([tail, head]).ravel()
    kept = np.column_stack([np.ones(len(tail), dtype=bool), inner]).ravel()
    start = np.concatenate([[0], np.cumsum(1 + inner)])
    ends = csc_matrix(
        (np.ones(start[-1], dtype=np.uint8), entries[kept], start), shape=(vertices, len(tail))
    )
    matching = Matching.from_check_matrix(ends, weights=weight, use_virtual_boundary_node=True)
    chosen = matching.decode(odd.astype(np.uint8)).astype(bool)
    return Join(chosen, float(weight[chosen].sum() * step))


def _whole(price: FloatArray) -> tuple[FloatArray, float]:
    """Round prices down to whole multiples of a step; the step is 1 where that loses nothing."""
    largest = float(price.max(initial=0.0))
    if largest <= LARGEST_WEIGHT and bool(np.all(price == np.floor(price))):
        return price, 1.0
    # A power of two as step: scaling back and forth is then exact in floating point.
    step = 2.0 ** np.ceil(np.log2(largest / LARGEST_WEIGHT))
    return np.floor(price / step), float(step)
