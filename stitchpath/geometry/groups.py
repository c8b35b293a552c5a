"""Which things hang together: of all at once as groups, or one link after another.

One after another, plain lists: scipy's `DisjointSet` takes three times as long for the small sets
here.
"""

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from stitchpath.base.typing import IntArray

__all__ = ["groups", "join", "root"]

_FEW = 600  # links: up to so many plain Python is faster than making a sparse matrix


def groups(count: int, one: IntArray, two: IntArray) -> IntArray:
    """Sort things that are linked in pairs into groups that hang together.

    Parameters
    ----------
    count
        How many things there are.
    one, two
        Which ones each pair links, shape (m,).

    Returns
    -------
    ndarray
        Number of the group of each thing, shape (count,), counted from 0 in the order of their
        first ones.

    Examples
    --------
    >>> groups(4, np.array([1]), np.array([3])).tolist()
    [0, 1, 2, 1]
    """
    if len(one) > _FEW:
        links = coo_array((np.ones(len(one)), (one, two)), shape=(count, count))
        return connected_components(links, directed=False)[1].astype(np.int64)
    leader = list(range(count))
    for a, b in zip(one.tolist(), two.tolist(), strict=True):
        join(leader, a, b)
    number: list[int] = []
    found = 0
    for thing, lead in enumerate(leader):  # a leader is never greater than what it leads
        if lead == thing:
            number.append(found)
            found += 1
        else:
            number.append(number[lead])
    return np.array(number, dtype=np.int64)


def root(leader: list[int], node: int) -> int:
    """Follow a node to the leader of its set, shortening the way.

    Parameters
    ----------
    leader
        For each node one of its set on the way to the leader, which has itself: at the start
        ``list(range(n))``.
    node
        The node.
    """
    while leader[node] != node:
        leader[node] = leader[leader[node]]
        node = leader[node]
    return node


def join(leader: list[int], one: int, two: int) -> bool:
    """Make the sets of two nodes one, led by the lower leader; False if they were one already."""
    one, two = root(leader, one), root(leader, two)
    leader[max(one, two)] = min(one, two)
    return one != two
