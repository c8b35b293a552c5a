"""A needle that is parked between windows: what is proven of it."""

from types import SimpleNamespace

import numpy as np
import pytest

from stitchpath.route import parking
from stitchpath.route.parking import Parked, route_parked
from stitchpath.route.router import Routed
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
    (routed,), _ = route_parked(
        network, Parked(found=0), lambda _: [one(100.0, 95.0, found=found)], one(1, 1, left=left)
    )
    assert (routed.proof.cost, routed.proof.lower_bound) == (100 - spare, 95 - spare)
    assert routed.proof.gap > 0
