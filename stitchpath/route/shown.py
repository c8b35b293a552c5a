"""What has runs, shown: as a picture, as a graph, as a table of shapes."""

from collections.abc import Iterator, Mapping
from html import escape
from typing import TYPE_CHECKING, Any

import numpy as np
from shapely import LineString, Polygon

from stitchpath.base.marks import (
    INK,
    LINE_OF,
    LINES,
    PAPER,
    casing_of,
    casing_reach,
    thread_looks,
)
from stitchpath.base.typing import FloatArray
from stitchpath.base.units import format_count
from stitchpath.geometry.polylines import joined_paths, moved_aside, path_lengths
from stitchpath.lines.line import Line
from stitchpath.route.runs import Proof, Run

if TYPE_CHECKING:
    import geopandas as gpd
    import networkx as nx
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["Shown"]

_WIDE = 720  # px: width of a picture in a notebook
_PEN = 1.2  # points
_ASIDE = 2.2  # pens from a line to its second pass


class Shown:
    """Whatever holds lines and runs: a plan, a plan read again, lines of one's own routed."""

    __slots__ = ()

    name: str
    lines: tuple[Line, ...]
    runs: tuple[Run, ...]
    proof: Proof
    outline: Polygon | None

    def thread_colours(self) -> Mapping[str, str]:
        """Tell what colour each thread is drawn in, where it has one."""
        return {}

    def __repr__(self) -> str:
        """Say in one line what it is."""
        runs, lines = format_count(len(self.runs), "run"), format_count(len(self.lines), "line")
        proof = self.proof
        held = "proven" if proof.optimal else f"bound {proof.lower_bound:.1f} {proof.unit}"
        return (
            f"<{type(self).__name__} {self.name!r}: {lines}, {runs}, "
            f"cost {proof.cost:.1f} {proof.unit}, {held}>"
        )

    def plot(self, ax: "Axes | None" = None) -> "tuple[Figure, Axes]":
        """Draw the runs with matplotlib, true to proportion, y pointing down.

        Parameters
        ----------
        ax
            Where to; a new figure when there is none.

        Returns
        -------
        figure, axes
            What it was drawn on.

        Examples
        --------
        >>> import matplotlib, stitchpath
        >>> matplotlib.use("agg")
        >>> figure, axes = stitchpath.route_lines([[(0, 0), (50, 0)], [(50, 0), (50, 50)]]).plot()
        >>> axes.get_aspect()
        1.0
        """
        import matplotlib.pyplot as plt  # noqa: PLC0415 - slow to import, wanted only here

        figure, axes = plt.subplots() if ax is None else (ax.figure, ax)
        edge = LINES["edge"]
        if self.outline is not None:
            ring = np.array(self.outline.exterior.coords)
            axes.plot(*ring.T, color=edge.colour, linewidth=_PEN * edge.width)
        for points, colour, width, dash in self._strokes(self._pen()):
            style: Any = (0, tuple(part / width for part in dash)) if dash else "-"
            axes.plot(*points.T, color=colour, linewidth=_PEN * width, linestyle=style)
        for run in self.runs:
            axes.annotate(str(run.number), run.legs[0].points[0], color=INK, fontsize="small")
        axes.set_aspect("equal")
        if not axes.yaxis_inverted():
            axes.invert_yaxis()
        axes.set(xlabel="mm", ylabel="mm", title=self.name)
        return figure, axes  # type: ignore[return-value]

    def to_networkx(self) -> "nx.MultiDiGraph":
        """Give the runs as a directed multigraph in stitching order.

        Returns
        -------
        networkx.MultiDiGraph
            Nodes are places with `pos` (x, y in mm, y down). Edges are keyed by their place in the
            stitching order, from 0, and carry `run`, `do`, `line` (-1 for travel), `along`,
            `length` (mm) and `points`, shape (n, 2).

        Examples
        --------
        >>> import stitchpath
        >>> routed = stitchpath.route_lines([[(0, 0), (50, 0)], [(50, 0), (50, 50)]])
        >>> [(tail, head, data["do"]) for tail, head, data in routed.to_networkx().edges(data=True)]
        [(0, 1, 'stitch'), (1, 2, 'stitch')]
        """
        import networkx as nx  # noqa: PLC0415 - slow to import, wanted only here

        graph = nx.MultiDiGraph(name=self.name)
        legs = [(run, leg) for run in self.runs for leg in run.legs]
        lengths = path_lengths([leg.points for _, leg in legs]).tolist()
        number: dict[tuple[float, float], int] = {}
        for k, ((run, leg), length) in enumerate(zip(legs, lengths, strict=True)):
            ends = []
            for x, y in np.round(leg.points[[0, -1]], 3).tolist():
                ends.append(number.setdefault((x, y), len(number)))
                graph.add_node(ends[-1], pos=(x, y))
            graph.add_edge(
                *ends,
                key=k,
                run=run.number,
                do=leg.do,
                line=leg.line,
                along=leg.along,
                length=length,
                points=leg.points,
            )
        return graph

    def to_geodataframe(self) -> "gpd.GeoDataFrame":
        """Give the legs as a table of shapes, in stitching order; wants geopandas.

        Returns
        -------
        geopandas.GeoDataFrame
            One row for each leg: `run`, `stage`, `thread`, `do`, `line`, `along`, `length` (mm)
            and `geometry` (mm, y down, no coordinate reference system).

        Raises
        ------
        ImportError
            When geopandas is not there.

        Examples
        --------
        >>> import stitchpath
        >>> routed = stitchpath.route_lines([[(0, 0), (50, 0)], [(50, 0), (50, 30)]])
        >>> sorted(routed.to_geodataframe().length.tolist())
        [30.0, 50.0]
        """
        import geopandas as gpd  # noqa: PLC0415 - an extra, not needed elsewhere

        legs = [(run, leg) for run in self.runs for leg in run.legs]
        return gpd.GeoDataFrame(
            {
                "run": [run.number for run, _ in legs],
                "stage": [run.stage for run, _ in legs],
                "thread": [run.thread for run, _ in legs],
                "do": [leg.do for _, leg in legs],
                "line": [leg.line for _, leg in legs],
                "along": [leg.along for _, leg in legs],
                "length": path_lengths([leg.points for _, leg in legs]),
            },
            geometry=[LineString(leg.points) for _, leg in legs],
        )

    def _pen(self) -> float:
        """Give the width of a line on a picture of the whole, mm."""
        paths = [leg.points for run in self.runs for leg in run.legs]
        size = np.ptp(joined_paths(paths)[1], axis=0).max() if paths else 1.0
        return max(float(size), 1.0) / 300

    def _strokes(self, pen: float) -> Iterator[tuple[FloatArray, str, float, tuple[float, ...]]]:
        """Give what is drawn, casings first: its points, colour, width and dash in pens."""
        looks = thread_looks((run.thread for run in self.runs), self.thread_colours())
        for cased in (True, False):
            for run in self.runs:
                look = looks[run.thread]
                casing = casing_of(look.colour, [PAPER])
                for leg in run.legs if casing or not cased else ():
                    line = LINES[LINE_OF[leg.do]]
                    points = moved_aside(leg.points, pen * _ASIDE) if line.beside else leg.points
                    width = look.width * line.width
                    if cased and casing:
                        yield points, casing, width + 2 * casing_reach(casing), ()
                    else:
                        dash = look.dash if line.dash is None else line.dash
                        yield points, look.colour, width, dash

    def _repr_html_(self) -> str:
        """Draw the runs for a notebook, with what is said of them below."""
        return f"<figure>{self._repr_svg_()}<figcaption>{escape(repr(self))}</figcaption></figure>"

    def _repr_svg_(self) -> str:
        """Draw the runs for a notebook."""
        paths = [leg.points for run in self.runs for leg in run.legs]
        if self.outline is not None:
            paths.append(np.array(self.outline.exterior.coords))
        flat = joined_paths(paths)[1] if paths else np.zeros((1, 2))
        low, size = flat.min(axis=0), np.maximum(np.ptp(flat, axis=0), 1.0)
        pen = float(size.max()) / 300
        left, top = low - 4 * pen
        width, height = size + 8 * pen
        body = "".join(self._svg_paths(pen))
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{_WIDE}" '
            f'height="{_WIDE * height / width:.0f}" '
            f'viewBox="{left:.3f} {top:.3f} {width:.3f} {height:.3f}" role="img">'
            f"<title>{escape(self.name)}</title>"
            f'<g fill="none" stroke-linejoin="round">{body}</g></svg>'
        )

    def _svg_paths(self, pen: float) -> Iterator[str]:
        edge = LINES["edge"]
        if self.outline is not None:
            ring = np.array(self.outline.exterior.coords)
            width = pen * edge.width
            yield f'<path stroke="{edge.colour}" stroke-width="{width:.3f}" d="{_data(ring)}"/>'
        alike: dict[tuple[str, float, tuple[float, ...]], list[str]] = {}
        for points, colour, wide, dash in self._strokes(pen):
            alike.setdefault((colour, wide, dash), []).append(_data(points))
        for (colour, wide, dash), data in alike.items():
            said = f' stroke-dasharray="{" ".join(f"{d * pen:.3f}" for d in dash)}"' if dash else ""
            yield (
                f'<path stroke="{escape(colour)}" stroke-width="{wide * pen:.3f}"{said} '
                f'd="{"".join(data)}"/>'
            )


def _data(points: FloatArray) -> str:
    return "M" + "L".join(f"{x:.3f} {y:.3f}" for x, y in points.tolist())
