"""Pairing odd crossings from one side of a quilt to the other."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stitchpath.route import narrow
from stitchpath.route.narrow import across, narrow_join
from stitchpath.route.tjoin import t_join

PRICES = st.integers(0, 12).map(lambda price: price / 8)


@st.composite
def webs(draw):
    """Any few lines between six crossings; a head of 6 is an end of a run."""
    pair = st.tuples(st.integers(0, 5), st.integers(0, 6), PRICES).filter(lambda e: e[0] != e[1])
    rows = draw(st.lists(pair, min_size=1, max_size=9))
    odd = draw(st.lists(st.booleans(), min_size=6, max_size=6))
    return *(np.array(column) for column in zip(*rows, strict=True)), np.array(odd)


def makes_even(chosen, tail, head, odd):
    met = np.bincount(np.concatenate([tail[chosen], head[chosen]]), minlength=7)[:6]
    return np.array_equal(met % 2 == 1, odd)


@given(webs(), st.none() | st.permutations(range(6)))
def test_no_other_choice_of_lines_to_go_over_twice_costs_less(web, order):
    tail, head, price, odd = web
    order = order or across(6, tail, head)
    ways = (np.array(way) for way in product([False, True], repeat=len(tail)))
    costs = [price[way].sum() for way in ways if makes_even(way, tail, head, odd)]
    if not costs:
        with pytest.raises(ValueError, match="no T-join"):
            narrow_join(order, tail, head, price, odd)
        return
    chosen, cost = narrow_join(order, tail, head, price, odd)
    assert makes_even(chosen, tail, head, odd)
    assert price[chosen].sum() == cost == min(costs)


def grid(across_it, along):
    """The seams of a top of square patches, as many across as along."""
    number = np.arange(across_it * along).reshape(along, across_it)
    tail = np.concatenate([number[:, :-1].ravel(), number[:-1].ravel()])
    head = np.concatenate([number[:, 1:].ravel(), number[1:].ravel()])
    return number.size, tail, head


@pytest.mark.parametrize("wide", [1, 2, 5, 9])
def test_a_runner_is_walked_along_however_it_lies(wide):
    vertices, tail, head = grid(wide, 25)
    order = across(vertices, tail, head)
    assert sorted(order) == list(range(vertices))
    turned = np.arange(vertices).reshape(25, wide).T.ravel().argsort()
    assert across(vertices, turned[tail], turned[head]) is not None


def test_a_wide_or_large_top_is_left_to_the_library_that_is_quicker_there():
    assert across(*grid(11, 20)) is not None
    assert across(*grid(12, 20)) is None
    assert across(*grid(1, 501)) is not None  # of 500 lines
    assert across(*grid(1, 502)) is None


def test_both_ways_pair_the_crossings_of_a_runner_at_one_price(monkeypatch):
    vertices, tail, head = grid(6, 20)
    price = np.random.default_rng(5).uniform(0.5, 2, len(tail))
    odd = np.arange(vertices) % 3 == 0
    one = t_join(vertices, tail, head, price, odd)
    monkeypatch.setattr(narrow, "WIDEST", 0)
    other = t_join(vertices, tail, head, price, odd)
    assert other.bound < one.bound  # whose prices were not rounded down
    assert price @ one.chosen == pytest.approx(price @ other.chosen, rel=1e-6)
