"""Lines of pieced motifs: inside their edges, and echoes round them."""

from collections.abc import Collection, Iterator, Sequence

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from stitchpath.base.errors import StitchpathError, unknown_name
from stitchpath.design.model import Design, Fill, Motif
from stitchpath.geometry.tolerances import GRID, SAME_EDGE
from stitchpath.lines.applique import Wish, echoed, solid
from stitchpath.lines.line import Line
from stitchpath.lines.outline import outline_lines
from stitchpath.lines.regions import NamedRegions, covering
from stitchpath.lines.threads import thread_for
from stitchpath.top.build import Top
from stitchpath.top.place import Place, Subject

__all__ = ["motif_lines"]


def motif_lines(design: Design, top: Top) -> list[Line]:
    """Make edge lines and echoes of pieced motifs.

    Patches of feature fabrics that touch are one motif; beside these, whatever the design names.

    Raises
    ------
    StitchpathError
        When lines are asked for and no feature fabric is named, or nothing is called so.
    """
    before = covering(top)
    free = top.outline.difference(shapely.union_all(before))
    lines: list[Line] = []
    many = 0
    for wish, motifs, inside in _wished(design, top):
        if wish.edge_line is not None:
            thread = wish.thread or thread_for(design, "outline")
            for k, motif in enumerate(motifs, many):
                clip = solid(motif.intersection(free)) if before else None
                paths = outline_lines(motif, wish.edge_line, corner=wish.corner, clip=clip)
                of = Subject(motif=k)
                lines += [Line("outline", 1, thread, points, of) for points in paths]
        if wish.echo is not None:
            echo = Wish(1, wish.thread or thread_for(design, "echo"), wish.echo, wish.corner)
            lines += _echoes(top, motifs, inside, echo, free)
        many += len(motifs)
    return lines


def _wished(design: Design, top: Top) -> Iterator[tuple[Motif, list[Polygon], frozenset[int]]]:
    """List what is wished, of which motifs, and the patches that they are made of."""
    asked = design.lines
    if asked.edge_line is not None or asked.echo is not None:
        feature = set(asked.feature)
        if not feature:
            raise StitchpathError(
                "lines.feature: found no fabric, expected the fabrics that stand forward, as a "
                "motif's edge line or echo is asked for"
            )
        wish = Motif.model_construct(
            edge_line=asked.edge_line, echo=asked.echo, corner=asked.corner, thread=None
        )
        yield wish, *_shapes(top, [i for i, p in enumerate(top.patches) if p.fabric in feature])
    named = NamedRegions(top, np.zeros(len(top.seams), dtype=np.bool_))
    for k, own in enumerate(design.motifs):
        if own.thread is not None and own.thread not in design.threads:
            raise unknown_name(f"motifs[{k + 1}].thread", "thread", own.thread, design.threads)
        fill = Fill.model_construct(region=own.region)
        regions = named.of(fill, f"motifs[{k + 1}].region")
        for patches in dict.fromkeys(region.patches for region in regions):
            yield own, *_shapes(top, patches)


def _shapes(top: Top, patches: Collection[int]) -> tuple[list[Polygon], frozenset[int]]:
    """Join patches where they touch; give the motifs, and what they are made of."""
    joined = shapely.union_all([top.patches[i].polygon for i in patches], grid_size=GRID)
    motifs = [part for part in shapely.get_parts(joined) if isinstance(part, Polygon)]
    return motifs, frozenset(patches)


def _echoes(
    top: Top, motifs: Sequence[Polygon], inside: Collection[int], wish: Wish, free: BaseGeometry
) -> list[Line]:
    """Echo motifs within the ground of each unit beside them: so seams between units stop them."""
    tree = shapely.STRtree(motifs)
    beside = [i for i in range(len(top.patches)) if i not in inside]
    polygons = np.array([top.patches[i].polygon for i in beside], dtype=object)
    close = tree.query(polygons, predicate="dwithin", distance=SAME_EDGE)[0]
    units = {top.patches[beside[k]].place for k in close.tolist()}
    grounds: dict[Place, list[Polygon]] = {}
    for i in beside:
        if top.patches[i].place in units:
            grounds.setdefault(top.patches[i].place, []).append(top.patches[i].polygon)
    lines: list[Line] = []
    for place, patches in grounds.items():
        ground = shapely.union_all(patches)
        near = sorted(tree.query(ground, predicate="dwithin", distance=SAME_EDGE).tolist())
        if near:
            shapes = [MultiPolygon([motifs[k]]) for k in near]
            lines += echoed(shapes, wish, ground.intersection(free), Subject(place=place))
    return lines
