"""A needle that is parked between windows: what is proven of it."""

from types import SimpleNamespace

import numpy as np
import pytest

from stitchpath.route import parking
from stitchpath.route.parking import Parked, route_parked
from stitchpath.route.router import Routed, TornError
from stitchpath.route.runs import Proof
from stitchpath.route.trails import Turning

END = 12.5


def one(cost, bound, *, found=False, left=False):
    proof = Proof(cost, bound, optimal=cost == bound)
    return Routed((), proof, Turning(0.0, 0, 0, 0, 0.0), None, 0.0, found, left)


@pytest.mark.parametrize(
    ("found", "left", "spare"), [(False, False, 2 * END), (True, True, 0), (False, True, 0)]
)
def test_a_place_where_no_needle_is_parked_proves_nothing_that_was_not_proven(
    found, left, spare, monkeypatch
):
    # A gap of 5 stays one of 5: it was once said to be closed, as two ends that no one makes were
    # taken off the cost alone, and the bound was cut down to it.
    monkeypatch.setattr(parking, "with_parked", lambda network, *_: network)
    network = SimpleNamespace(end=np.array([END]))
    (routed,) = route_parked(
        network, Parked(found=0), lambda _: [one(100.0, 95.0, found=found)], one(1, 1, left=left)
    )
    assert (routed.proof.cost, routed.proof.lower_bound) == (100 - spare, 95 - spare)
    assert routed.proof.gap > 0


def test_where_one_run_would_be_held_at_both_ends_the_next_window_is_not_held_either(monkeypatch):
    # A plan came out dearer than was said, by an end: the next window was held to a place where
    # no needle had been left, and took off two ends, of which one alone had been reckoned.
    held = []
    monkeypatch.setattr(parking, "with_parked", lambda _, *at: held.append(at) or at)

    def routes(at):
        if at == (0, 1):
            raise TornError("held at both ends")
        return [one(100.0, 95.0)]

    network = SimpleNamespace(end=np.array([END, END]))
    (first,) = route_parked(network, Parked(0, 1), routes, one(1, 1, left=True))
    (second,) = route_parked(network, Parked(found=1), routes, first)
    assert held == [(0, 1), (0, None), (None, None)]
    assert first.torn
    assert second.proof.cost == 100.0
