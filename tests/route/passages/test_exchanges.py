"""A tour that is made better line by line, held to the order that she is taught."""

import numpy as np
import pytest
from passages import made_up

from stitchpath.route.effort import Effort
from stitchpath.route.passages.links import Links, Onward, Ways
from stitchpath.route.passages.search import Tour
from stitchpath.route.passages.taught import WHENEVER


def any_links(dice, lines):
    """Links between lines strewn at random: as dear as they are long."""
    at = dice.uniform(0, 100, (2 * lines, 2))
    far = np.hypot(*(at[:, None] - at[None]).T)
    near = [
        {int(b): float(far[a, b]) for b in np.argsort(far[a]) if b != a} for a in range(len(at))
    ]
    return Links(np.arange(lines), near, np.full(2 * lines, 60.0), np.repeat(np.arange(lines), 2))


def paid(links, slots):
    """What a tour costs, link by link: to its first line, from line to line, and from its last."""
    return sum(links.near[a][b] for a, b in zip(slots[1::2], slots[2::2], strict=False)) + 2 * 60


@pytest.mark.parametrize("seed", range(6))
def test_what_she_is_taught_to_stitch_first_comes_first_whatever_is_exchanged(seed):
    dice = np.random.default_rng(seed)
    lines = int(dice.integers(9, 15))
    links = any_links(dice, lines)
    phase = np.sort(dice.integers(0, 3, lines))
    phase[dice.random(lines) < 0.5] = WHENEVER
    phase[[0, -1]] = 0, 2
    tour = Tour(links, list(range(2 * lines)), phase.tolist())
    begun = tour.cost
    tour.improve(Effort(5), upsets=300)
    slots = tour.slots()
    assert sorted(slots) == list(range(2 * lines))
    met = [int(phase[slot // 2]) for slot in slots[::2] if phase[slot // 2] != WHENEVER]
    assert met == sorted(met)
    assert tour.cost == pytest.approx(paid(links, slots))
    assert tour.cost < begun


@pytest.mark.parametrize("number", range(12))
def test_ways_from_area_to_area_cost_the_same_asked_at_once_or_one_by_one(number):
    ways = Ways(made_up(number))
    slots = np.arange(len(ways.slots))
    here, there = np.array_split(slots, 2)
    at_once = Onward(ways).prices(here.tolist(), there.tolist(), (1, there))
    one_by_one = [
        [Onward(ways).prices([a], [b], (1, there)).item() for b in there.tolist()]
        for a in here.tolist()
    ]
    assert at_once == pytest.approx(np.array(one_by_one).reshape(at_once.shape))
    if len(here):
        assert Onward(ways).between(here, there) == pytest.approx(at_once)
        assert Onward(ways).between(there, here[:1]) == pytest.approx(at_once[:1].T)
