"""Sets that few ways leave, held against all sets of small graphs; runs from numbers."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from stitchpath.route.passages.adjacency import light_sets
from stitchpath.route.passages.decode import trips_of
from stitchpath.route.passages.finding import Ties, odd_cuts
from stitchpath.route.passages.model import model_of
from stitchpath.route.passages.problem import Passages, Passing, cost_of


def web(seed, nodes=7):
    rng = np.random.default_rng(seed)
    pairs = np.array([pair for pair in combinations(range(nodes), 2) if rng.random() < 0.6])
    return pairs, rng.choice([0.25, 0.5, 1.0], len(pairs))


def sets(nodes):
    for size in range(1, nodes):
        yield from (list(chosen) for chosen in combinations(range(nodes), size))


def leaving(pairs, weight, chosen):
    inside = np.isin(pairs, chosen)
    return weight[inside[:, 0] != inside[:, 1]].sum()


@pytest.mark.parametrize("seed", range(40))
def test_a_piece_that_hangs_by_too_little_is_found_and_no_other(seed):
    pairs, weight = web(seed)
    ties = [(a, b, w) for (a, b), w in zip(pairs.tolist(), weight.tolist(), strict=True)]
    found = list(light_sets(7, ties, 6, [True] * 6 + [False], 2.0))
    for chosen in found:
        assert 6 not in chosen
        assert leaving(pairs, weight, chosen) < 2
    light = [leaving(pairs, weight, chosen) for chosen in sets(7) if 6 not in chosen]
    hangs = all(leaving(pairs, weight, [*chosen, 6]) > 0 for chosen in sets(6)) and min(light) > 0
    if hangs:
        assert bool(found) == (min(light) < 2)


@pytest.mark.parametrize("seed", range(40))
def test_the_lightest_odd_set_is_among_those_found(seed):
    pairs, weight = web(seed)
    marked = np.random.default_rng(seed).random(7) < 0.6
    marked[0] ^= marked.sum() % 2 == 1
    ties = Ties(pairs[:, 0], pairs[:, 1], weight)
    found = [np.flatnonzero(side) for side in odd_cuts(ties, marked, 2.0)]
    odd = [chosen for chosen in sets(7) if marked[chosen].sum() % 2]
    for chosen in found:
        assert marked[chosen].sum() % 2 == 1
        assert leaving(pairs, weight, chosen) < 2
    best = min((leaving(pairs, weight, chosen) for chosen in odd), default=np.inf)
    least = min((leaving(pairs, weight, chosen) for chosen in found), default=np.inf)
    assert least == best or (best >= 2 and not found)


def test_a_closed_way_is_joined_to_the_run_that_passes_one_of_its_edges():
    # A seam 0-1-2 passed twice between its middle and its end, with a loop at the end.
    tail, head = np.array([0, 1, 2]), np.array([1, 2, 2])
    passing = Passing(
        np.zeros(3, dtype=np.int64), np.zeros(3, dtype=np.int64), np.zeros(6), np.zeros(1),
        np.zeros((1, 3)), 0.0, 0.0,
    )  # fmt: skip
    problem = Passages(3, tail, head, np.ones(3, dtype=bool), np.ones(3), np.ones(3), np.ones(3),
                       passing)  # fmt: skip
    model = model_of(problem)
    column = {(a, b): k for k, (a, b) in enumerate(zip(model.a, model.b, strict=True))}
    counts = np.zeros(model.columns, dtype=np.int64)
    counts[model.first_edge :] = [1, 2, 1]
    counts[[column[1, 2], column[3, 4], column[3, 5]]] = 1
    counts[[model.first_stop + model.stop.tolist().index(end) for end in (0, 2)]] = 1
    assert (model.rows @ counts == 0).all()
    (trip,) = trips_of(model, counts)
    assert trip.edges.tolist() in ([0, 1, 2, 1], [1, 2, 1, 0])
    assert cost_of(problem, [trip]) == 3 + 1 + 2
    counts[[column[1, 2], column[3, 4], column[3, 5]]] = 0
    counts[model.first_edge :] = [1, 0, 1]
    counts[[column[4, 5], model.first_stop + model.stop.tolist().index(1)]] = 1
    counts[model.first_stop + model.stop.tolist().index(2)] = 0
    assert trips_of(model, counts) is None  # the loop hangs apart
    needless = model_of(replace(problem, required=np.array([True, True, False])))
    (trip,) = trips_of(needless, counts)
    assert trip.edges.tolist() == [0]
