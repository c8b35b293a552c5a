"""Links between islands: what is stitched, with nothing to stitch in between."""

from itertools import product

import numpy as np

from stitchpath.hands.areas import GROUND
from stitchpath.network.passing import Passing
from stitchpath.route.passages.links import FORBIDDEN, Ways, links_of
from stitchpath.route.passages.problem import Passages
from stitchpath.route.passages.search import Tour

SIDE, APART = 3, 6  # islands in a row; edges of each side of an island


def islands():
    """Lay squares of many short lines on a grid, joined corner to corner by ways."""
    edges, number = [], {}

    def vertex(*at):
        return number.setdefault(at, len(number))

    size = APART + 4
    for i, j in product(range(SIDE), range(SIDE)):
        x, y = i * size, j * size
        ring = [(x + k, y) for k in range(APART)] + [(x + APART, y + k) for k in range(APART)]
        ring += [(x + APART - k, y + APART) for k in range(APART)]
        ring += [(x, y + APART - k) for k in range(APART)]
        edges += [
            (vertex(*a), vertex(*b), True, 1.0)
            for a, b in zip(ring, ring[1:] + ring[:1], strict=True)
        ]
        if i:
            edges.append((vertex(x - 4, y), vertex(x, y), False, 4.0))
        if j:
            edges.append((vertex(x, y - 4), vertex(x, y), False, 4.0))
    tail, head, required, price = (np.array(row) for row in zip(*edges, strict=True))
    end = np.full(len(number), 100.0)
    end[vertex(0, 0)] = 0.0
    some = len(edges)
    passing = Passing(
        np.full(some, GROUND),
        np.zeros(some, dtype=np.int64),
        np.full(2 * some, np.nan),
        np.zeros(1),
        np.zeros((1, len(number))),
        0.0,
        0.0,
    )
    return Passages(len(number), tail, head, required, price, price, end, passing)


def test_from_each_island_she_is_shown_the_ways_to_others_though_its_own_lines_are_nearer():
    links = links_of(Ways(islands()))
    piece = links.piece.tolist()
    assert len(set(piece)) == SIDE * SIDE
    joined = {(piece[a], piece[b]) for a, row in enumerate(links.near) for b in row}
    assert sum(a < b for a, b in joined) >= 2 * SIDE * (SIDE - 1)


def test_a_run_that_has_to_go_on_from_her_start_does_not_end_there():
    ways = Ways(islands())
    free, held = links_of(ways), links_of(ways, held=2)
    at = np.flatnonzero(np.asarray(free.hub) != np.asarray(held.hub))
    assert ways.slots[at].tolist() == [4]  # the tail of the edge that holds it
    assert held.hub[int(at[0])] == FORBIDDEN


def test_turning_round_a_stretch_of_a_tour_counts_the_more_the_longer_it_is():
    links = links_of(Ways(islands()))
    tour = Tour(links, list(range(2 * len(links.edges))))
    counted = [0.0]
    for long in (2, 20, 400):  # the last is turned in another way
        tour._reverse(2, 1 + long)  # noqa: SLF001
        counted.append(tour._work)  # noqa: SLF001
    assert np.all(np.diff(counted, n=2) > 0)
