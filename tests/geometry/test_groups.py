"""What hangs together, beside networkx."""

import networkx as nx
import numpy as np
import pytest

from stitchpath.geometry.groups import groups


@pytest.mark.parametrize("links", [0, 5, 300, 600, 601, 900])
def test_few_links_and_many_part_a_quilt_alike(links):
    """Few are followed one by one, many as a matrix; a run must not fall apart in either."""
    count = 1000
    one, two = np.random.default_rng(links).integers(0, count, (2, links))
    graph = nx.Graph(zip(one.tolist(), two.tolist(), strict=True))
    graph.add_nodes_from(range(count))
    parts = sorted(nx.connected_components(graph), key=min)  # numbered by their first ones
    wanted = {member: number for number, part in enumerate(parts) for member in part}
    assert groups(count, one, two).tolist() == [wanted[k] for k in range(count)]
