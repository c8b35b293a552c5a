"""Which branches of a medial axis a quilter would stitch: the craft rules, and pruning by them."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from stitchpath.base.typing import BoolArray, FloatArray, IntArray
from stitchpath.geometry.groups import join, root
from stitchpath.lines.centre.medial_axis import Axis

__all__ = ["CentreRules", "Chain", "chain_length", "degrees_of", "pruned_chains", "trails"]

# The free end of a line that explains less than this many radii beyond its circle wanders about in
# the middle of a round end; from there the line runs straight on.
_TAIL = 0.2
_ALIKE = 1.5  # times the outline that another branch explains is still as much
_MOUTH = 1.8  # `side`s across the mouth of a limb that can be stitched: 2 and somewhat tapering
_STRAIGHT = -np.cos(np.radians(20.0))  # two headings that make one straight line, at most
_PAIR = 2  # lines that end at a point where a line passes
# Two measures that differ by less than this share are one, so that twins share their fate.
_TWINS = 1e-3
_STEADY = 1.15  # a stroke is no more times as wide in one place as in another


@dataclass(frozen=True, slots=True)
class CentreRules:
    """The craft rules that turn a medial axis into lines a quilter would stitch.

    What a branch *explains* is the length of outline round it, from where the circle at its foot
    touches the outline on one side to where it touches on the other. A corner of angle a at the end
    of it explains 2 cot(a/2) radii of that circle; the circle's own arc there is pi - a radii. What
    it explains *beyond its circle* is the difference: 0.43 radii for 90 degrees, 1.37 for 60.

    Attributes
    ----------
    tip
        How far short of the end of an arm its line stops, mm, measured along it. 1/16 in keeps
        the needle off a raw edge that frays (common practice).
    side
        How near beside a line the edge may come, mm. 1/32 in, half as much as at the end: an arm
        of 1/16 in is the narrowest that gets a line (our measure).
    neck
        A place narrower than `side` asks for is stitched through if it is no longer than this, mm:
        a fused neck of 1/2 in is held by the stitching on both sides.
    stub
        A branch is a stub unless it explains this many radii beyond its circle. 0.65 takes corners
        of 80 degrees and wider for blunt ends: a strip gets one line and no forks into corners.
    limb
        A branch is no stub, however large the circle at its foot, if somewhere on it the outline
        still to come is this many times the width there: a leg of a crab is small beside its shell
        and yet has to be held. 3 is a leg as long as it is wide.
    ahead
        A branch that runs straight on from another line is its tip, and stays if it explains this
        many radii beyond its circle: the point of an arrow. 0.25 is a corner of 100 degrees.
    corner
        Where a piece comes to a centre, from which every line tapers away, corners are all it has:
        they stay if they explain this many radii beyond the circle. 0.09 is a corner of 123
        degrees: a triangle, a square and a hexagon get a line to each corner.
    taper
        A line tapers away if the piece thins to half its width within this many radii from its
        foot. 3 is a corner of 19 degrees or wider; a narrow wedge keeps one line.
    end
        Branches that fork into the end of a line are stubs, all of them, if each explains a radius
        or more, as a corner does, but together less than this many. A square end explains 4, one
        cut at a slant of 60 degrees 4.6: the line runs straight on to the middle of the end and
        does not hook into a corner.
    reach
        A branch away from a centre is a stub, unless it is a limb, if it ends less than this many
        radii of the circle at its foot from there: what hardly comes out of that circle is a knot
        at the foot of a stem, not a fork.
    bend
        Where a stroke bends, the branch into its outer corner is a stub unless it reaches this many
        widths of the stroke: the line goes round the bend and does not hook into the corner.
    gather
        Meeting points closer than this share of the larger circle round them become one: arms of a
        star or a leaf meet in one point. On a way round a hole the smaller circle counts.
    blunt
        An axis shorter than this share of its largest circle gives no direction: the piece is
        round and gets one line across (`across.py`). A point, which is the axis of a disc, cannot
        be stitched. Meeting points that close are one before anything is pruned.
    smooth
        How far smoothing may move a line off the axis, mm: 0.2 mm is under half the thickness of a
        stitched line, and no hand follows less.
    shortest
        No line is shorter, mm. 1/8 in is one stitch at 8 to the inch (common practice).
    """

    tip: float = 1.5875
    side: float = 0.79375
    neck: float = 12.7
    stub: float = 0.65
    limb: float = 3.0
    ahead: float = 0.25
    corner: float = 0.09
    taper: float = 3.0
    end: float = 4.75
    reach: float = 1.35
    bend: float = 1.8
    gather: float = 0.9
    blunt: float = 0.2
    smooth: float = 0.2
    shortest: float = 3.175


@dataclass(frozen=True, slots=True)
class Chain:
    """A branch of the axis.

    Attributes
    ----------
    nodes, edges
        Its vertices, and the edges between them, one fewer, as numbers in the axis.
    ends
        The junctions or free ends that it joins. Junctions gathered into one have the same number.
    """

    nodes: IntArray
    edges: IntArray
    ends: tuple[int, int]

    def turned(self) -> "Chain":
        """Walk it the other way."""
        return Chain(self.nodes[::-1], self.edges[::-1], self.ends[::-1])


def chain_length(axis: Axis, chain: Chain) -> float:
    """Length of a chain, mm."""
    return float(np.hypot(*np.diff(axis.points[chain.nodes], axis=0).T).sum())


def degrees_of(chains: Iterable[Chain]) -> Counter[int]:
    """Count the chains that end at each junction; a closed one counts twice."""
    return Counter(end for chain in chains for end in chain.ends)


def trails(links: Sequence[tuple[int, int]]) -> list[list[tuple[int, bool]]]:
    """Join links that meet two by two.

    Parameters
    ----------
    links
        Pairs of junctions.

    Returns
    -------
    list
        Each trail as (number of the link, whether it is walked forward).
    """
    beside: dict[int, list[int]] = {}
    for k, (a, b) in enumerate(links):
        beside.setdefault(a, []).append(k)
        beside.setdefault(b, []).append(k)
    used = [False] * len(links)
    stops = [node for node, near in beside.items() if len(near) != _PAIR]
    found = []
    for start in [*stops, *beside]:  # what the stops leave over are closed rings
        for first in beside[start]:
            trail: list[tuple[int, bool]] = []
            node, link = start, first
            while not used[link]:
                used[link] = True
                forward = links[link][0] == node
                trail.append((link, forward))
                node = links[link][forward]
                near = beside[node]
                if len(near) == _PAIR and node != start:
                    link = near[0] if near[1] == link else near[1]
            if trail:
                found.append(trail)
    return found


def pruned_chains(axis: Axis, rules: CentreRules, grain: float) -> list[Chain]:
    """Take an axis apart into branches, without stubs, meeting points gathered.

    Parameters
    ----------
    axis
        Medial axis of one part of a piece.
    rules
        The craft rules.
    grain
        Outline that an edge of the axis must explain, beyond the arc of its own circle, to be
        looked at at all, mm: less is the flattening of a curve or a step of a trace, and no shape
        of its own.

    Returns
    -------
    list of Chain
        Empty for a round piece.
    """
    chains = _gathered(axis, _chains(axis, _worth(axis, grain)), rules.blunt)
    while stubs := _stubs(axis, chains, rules):
        chains = _merged([chain for k, chain in enumerate(chains) if k not in stubs])
    chains = _gathered(axis, chains, rules.gather)
    degrees = degrees_of(chains)
    chains = [_without_tails(axis, chain, degrees) for chain in chains]
    return [c for c in chains if max(degrees[end] for end in c.ends) > 1 or _long(axis, c, rules)]


def _without_tails(axis: Axis, chain: Chain, degrees: Counter[int]) -> Chain:
    """Cut the free ends of a chain back to where they have a direction."""
    radii = axis.radii[chain.nodes]
    inner = np.minimum(radii[1:], radii[:-1])
    extra = axis.explained[chain.edges] - _arc(axis.chords[chain.edges], inner)
    firm = np.flatnonzero(extra >= _TAIL * inner)
    if len(firm) == 0:
        return chain
    start = int(firm[0]) if degrees[chain.ends[0]] == 1 else 0
    stop = int(firm[-1]) + 1 if degrees[chain.ends[1]] == 1 else len(chain.edges)
    return Chain(chain.nodes[start : stop + 1], chain.edges[start:stop], chain.ends)


def _long(axis: Axis, chain: Chain, rules: CentreRules) -> bool:
    """Tell whether a line on its own is long enough to have a direction."""
    return chain_length(axis, chain) >= rules.blunt * float(axis.radii[chain.nodes].max())


def _worth(axis: Axis, grain: float) -> BoolArray:
    """Edges that explain more of the outline than the grain of a flattened curve."""
    radii = np.minimum(axis.radii[axis.edges[:, 0]], axis.radii[axis.edges[:, 1]])
    worth: BoolArray = axis.explained - _arc(axis.chords, radii) > grain
    return worth


def _arc(chords: FloatArray, radii: FloatArray) -> FloatArray:
    """Arc of a circle over a chord (half a turn at most), mm."""
    arcs: FloatArray = 2.0 * radii * np.arcsin(np.clip(chords / (2.0 * radii), 0.0, 1.0))
    return arcs


def _chains(axis: Axis, keep: BoolArray) -> list[Chain]:
    """Take the graph of the kept edges apart at its junctions and free ends."""
    kept = np.flatnonzero(keep)
    links = axis.edges[kept].tolist()
    chains = []
    for trail in trails(links):
        nodes = [links[k][not forward] for k, forward in trail]
        link, forward = trail[-1]
        nodes.append(links[link][forward])
        edges = kept[[k for k, _ in trail]]
        chains.append(Chain(np.array(nodes), edges, (nodes[0], nodes[-1])))
    return chains


_Branches: TypeAlias = list[tuple[int, Chain]]  # number and chain, foot first


def _stubs(axis: Axis, chains: list[Chain], rules: CentreRules) -> set[int]:
    """Numbers of chains that end free and are no line of their own: the outermost first.

    A fork into a blunt end is one only when each of its branches has lost its own stubs.
    """
    degrees = degrees_of(chains)
    centres = _centres(axis, chains, degrees, rules)
    headings = _headings(axis, chains)
    free: dict[int, _Branches] = {}
    for k, chain in enumerate(chains):
        first, last = (degrees[end] == 1 for end in chain.ends)
        if first != last:
            rooted = chain if last else chain.turned()
            free.setdefault(rooted.ends[0], []).append((k, rooted))
    outer: set[int] = set()
    inner: set[int] = set()
    for foot, branches in free.items():
        others, centre = degrees[foot] - len(branches), foot in centres
        if not centre and _is_blunt(axis, branches, degrees[foot], rules):
            by_size = sorted(branches, key=lambda branch: axis.explained[branch[1].edges[0]])
            outer.update(k for k, _ in by_size[: degrees[foot] - 1])
        else:
            found = _stubs_at(axis, chains, branches, headings[foot], rules, centre=centre)
            (outer if others <= 1 else inner).update(found)
    return outer or inner


def _stubs_at(
    axis: Axis,
    chains: list[Chain],
    branches: _Branches,
    headings: list[tuple[int, FloatArray]],
    rules: CentreRules,
    *,
    centre: bool,
) -> list[int]:
    """Numbers of the stubs among the free branches at one foot."""
    stubs, explained = [], []
    for k, branch in branches:
        own = next(way for j, way in headings if j == k)
        radius = float(axis.radii[branch.nodes[0]])
        if centre:
            extra, reach = rules.corner, 0.0
        elif any(own @ way < _STRAIGHT for j, way in headings if j != k):
            extra, reach = rules.ahead, 0.0
        else:
            extra, reach = (
                rules.stub,
                max(rules.reach, _bend(axis, chains, k, branch.ends[0], rules)),
            )
        if _is_stub(axis, branch, extra * radius, reach * radius, rules):
            stubs.append(k)
            explained.append(float(axis.explained[branch.edges[0]]))
    if len(stubs) == len(headings):
        return stubs
    # The greatest may be the end of a longer line that goes on from here: if it explains much more
    # than the least, wait until that is gone. Alike, as in a fork, they go together.
    most = _ALIKE * min(explained, default=0.0)
    return [k for k, much in zip(stubs, explained, strict=True) if much <= most]


def _bend(axis: Axis, chains: list[Chain], branch: int, foot: int, rules: CentreRules) -> float:
    """How far a branch has to reach, in radii, if it is the outer corner where a stroke bends.

    There two other branches go on as a stroke, as wide as each other and no narrower farther on.
    """
    others = [c for k, c in enumerate(chains) if k != branch and foot in c.ends]
    if len(others) != _PAIR:
        return 0.0
    ways = [c if c.ends[0] == foot else c.turned() for c in others]
    radius = float(axis.radii[ways[0].nodes[0]])
    wide = []
    for way in ways:
        gone = np.hypot(*(axis.points[way.nodes] - axis.points[way.nodes[0]]).T)
        there = axis.radii[way.nodes][(gone >= radius) & (gone <= rules.taper * radius)]
        far = gone.max() >= rules.taper * radius and len(there) > 0
        if not far or there.max() > _STEADY * there.min():
            return 0.0
        wide.append(float(np.median(there)))
    return rules.bend * 2 * max(wide) / radius if max(wide) < _STEADY * min(wide) else 0.0


def _is_blunt(axis: Axis, branches: _Branches, degree: int, rules: CentreRules) -> bool:
    """Tell whether the branches at a foot, all but one line, fork into a blunt end."""
    explained = sorted(axis.explained[branch.edges[0]] for _, branch in branches)
    radius = axis.radii[branches[0][1].nodes[0]]
    end = explained[: degree - 1]
    corners = len(end) == degree - 1 > 1 and min(end) >= radius
    twins = len(explained) == degree and explained[-1] < (1 + _TWINS) * explained[-2]
    return corners and not twins and sum(end) < rules.end * radius


def _is_stub(axis: Axis, branch: Chain, least: float, reach: float, rules: CentreRules) -> bool:
    """Tell whether a free branch, foot first, explains too little or hardly comes out, mm."""
    if _stitched(axis, branch, rules) < rules.shortest:
        return True
    if _is_limb(axis, branch, rules):
        return False
    radius, first = axis.radii[branch.nodes[0]], branch.edges[0]
    extra = axis.explained[first] - _arc(axis.chords[first], radius)
    far = chain_length(axis, branch) + float(axis.radii[branch.nodes[-1]])
    return bool(extra < least or far < reach)


def _stitched(axis: Axis, branch: Chain, rules: CentreRules) -> float:
    """Length that can be stitched of a free branch, run on to the tip, mm."""
    wide = axis.radii[branch.nodes] >= rules.side
    steps = np.hypot(*np.diff(axis.points[branch.nodes], axis=0).T)
    on = float(axis.radii[branch.nodes[-1]])
    # how far a longer way from the tip draws it back is told of when it is drawn
    return float(steps[wide[1:]].sum()) + on - min(rules.tip, CentreRules().tip)


def _headings(axis: Axis, chains: list[Chain]) -> dict[int, list[tuple[int, FloatArray]]]:
    """Which way each chain leaves each junction: number of the chain and unit vector."""
    headings: dict[int, list[tuple[int, FloatArray]]] = {}
    for k, chain in enumerate(chains):
        for way in (chain, chain.turned()):
            points = axis.points[way.nodes] - axis.points[way.nodes[0]]
            gone = np.hypot(*points.T)
            near = gone <= 0.5 * axis.radii[way.nodes[0]]
            last = len(near) - 1 if near.all() else int(np.argmin(near))
            size = max(float(gone[last]), 1e-12)
            headings.setdefault(way.ends[0], []).append((k, points[last] / size))
    return headings


def _is_limb(axis: Axis, rooted: Chain, rules: CentreRules) -> bool:
    """Tell whether a chain runs out into a limb wide enough to stitch."""
    radii = axis.radii[rooted.nodes]
    chords = axis.chords[rooted.edges]
    stitchable = np.minimum(radii[1:], radii[:-1]) >= rules.side
    stitchable &= chords >= _MOUTH * rules.side
    far = axis.explained[rooted.edges] >= rules.limb * chords
    return bool(np.any(stitchable & far))


def _centres(
    axis: Axis, chains: list[Chain], degrees: Counter[int], rules: CentreRules
) -> set[int]:
    """Junctions from which every chain tapers away."""
    steady = set()
    for chain in chains:
        for way in (chain, chain.turned()):
            radii = axis.radii[way.nodes]
            gone = np.hypot(*(axis.points[way.nodes] - axis.points[way.nodes[0]]).T)
            if radii[gone <= rules.taper * radii[0]].min() > 0.5 * radii[0]:
                steady.add(way.ends[0])
    return {node for node, degree in degrees.items() if degree > _PAIR and node not in steady}


def _merged(chains: list[Chain]) -> list[Chain]:
    """Join chains where only two are left at a junction."""
    whole = []
    for trail in trails([chain.ends for chain in chains]):
        parts = [chains[k] if forward else chains[k].turned() for k, forward in trail]
        nodes = np.concatenate([parts[0].nodes, *(part.nodes[1:] for part in parts[1:])])
        edges = np.concatenate([part.edges for part in parts])
        whole.append(Chain(nodes, edges, (parts[0].ends[0], parts[-1].ends[1])))
    return whole


def _gathered(axis: Axis, chains: list[Chain], share: float) -> list[Chain]:
    """Make junctions closer than a share of their circles one, but never close a way round a hole.

    Groups that have become one do so again only if their middles lie that close together.
    """
    degrees = degrees_of(chains)
    leader = list(range(len(axis.points)))
    spots = {
        end: axis.points[[node]] for c in chains for end, node in zip(c.ends, _tips(c), strict=True)
    }

    lengths = np.array([chain_length(axis, chain) for chain in chains])
    gone: set[int] = set()
    for batch in _twins(lengths):
        near = []
        for k in batch:
            chain = chains[k]
            closed = bool(np.isinf(axis.explained[chain.edges[0]]))
            circles = axis.radii[list(_tips(chain))]
            reach = share * float(circles.min() if closed else circles.max())
            if min(degrees[end] for end in chain.ends) <= _PAIR or lengths[k] >= reach:
                continue
            a, b = sorted(root(leader, end) for end in chain.ends)
            apart = spots[a].mean(axis=0) - spots[b].mean(axis=0)
            if (a == b and not closed) or (a != b and np.hypot(*apart) < reach):
                near.append((k, a, b, closed))
        ring = _close_a_ring([(a, b) for _, a, b, closed in near if closed])
        for k, a, b, closed in near:
            if closed and ring:
                continue
            gone.add(k)
            a, b = sorted(root(leader, end) for end in (a, b))  # noqa: PLW2901  they may be one now
            if join(leader, a, b):
                spots[a] = np.concatenate([spots[a], spots[b]])
    left = [chain for k, chain in enumerate(chains) if k not in gone]
    ends = [(root(leader, chain.ends[0]), root(leader, chain.ends[1])) for chain in left]
    return [Chain(c.nodes, c.edges, end) for c, end in zip(left, ends, strict=True)]


def _twins(lengths: FloatArray) -> list[list[int]]:
    """Numbers of lengths from the least on, those as good as alike together."""
    order = np.argsort(lengths, kind="stable")
    steps = np.diff(lengths[order]) > _TWINS * np.maximum(lengths[order][1:], 1e-3)
    return [batch.tolist() for batch in np.split(order, np.flatnonzero(steps) + 1)]


def _close_a_ring(links: Sequence[tuple[int, int]]) -> bool:
    """Tell whether links between junctions make a ring."""
    leader = list(range(1 + max((max(link) for link in links), default=0)))
    return not all(join(leader, a, b) for a, b in links)


def _tips(chain: Chain) -> tuple[int, int]:
    """Tell the first and the last vertex of a chain."""
    return int(chain.nodes[0]), int(chain.nodes[-1])
