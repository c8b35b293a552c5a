"""What has runs, shown: as a picture, as a graph, as a table of shapes."""

from collections.abc import Mapping, Sequence
from html import escape
from typing import TYPE_CHECKING, Any

import numpy as np
from shapely import LineString, Polygon

from stitchpath.geometry.polylines import joined_paths, path_lengths
from stitchpath.lines.line import Line
from stitchpath.route.runs import Proof, Run
from stitchpath.typing import FloatArray

if TYPE_CHECKING:
    import geopandas as gpd
    import networkx as nx
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["Shown"]

_INK = "#1b2430"
_WIDE = 720  # px: width of a picture in a notebook
# Stitching, a second pass, a way: told apart by their strokes, not by colour alone.
_DASHES: dict[str, tuple[float, ...]] = {"stitch": (), "retrace": (3.0, 2.0), "travel": (1.0, 2.0)}


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
        runs, lines = len(self.runs), len(self.lines)
        proof = self.proof
        held = "proven" if proof.optimal else f"bound {proof.lower_bound:.1f} {proof.unit}"
        return (
            f"<{type(self).__name__} {self.name!r}: {lines} lines, {runs} runs, "
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
        if self.outline is not None:
            axes.plot(*np.array(self.outline.exterior.coords).T, color="#9aa4ad", linewidth=0.8)
        colours = self.thread_colours()
        for run in self.runs:
            for leg in run.legs:
                style: Any = (0, _DASHES[leg.do]) if _DASHES[leg.do] else "-"
                colour = colours.get(run.thread, _INK)
                axes.plot(*leg.points.T, color=colour, linewidth=1.2, linestyle=style)
            axes.annotate(str(run.number), run.legs[0].points[0], color=_INK, fontsize="small")
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
            f'<g fill="none" stroke-width="{pen:.3f}" stroke-linejoin="round">{body}</g></svg>'
        )

    def _svg_paths(self, pen: float) -> Sequence[str]:
        parts = []
        if self.outline is not None:
            ring = np.array(self.outline.exterior.coords)
            parts.append(f'<path stroke="#9aa4ad" d="{_data(ring)}"/>')
        colours = self.thread_colours()
        for run in self.runs:
            colour = escape(colours.get(run.thread, _INK))
            for do, dashes in _DASHES.items():
                data = "".join(_data(leg.points) for leg in run.legs if leg.do == do)
                dash = f' stroke-dasharray="{" ".join(f"{d * pen:.3f}" for d in dashes)}"'
                if data:
                    parts.append(f'<path stroke="{colour}"{dash if dashes else ""} d="{data}"/>')
        return parts


def _data(points: FloatArray) -> str:
    return "M" + "L".join(f"{x:.3f} {y:.3f}" for x, y in points.tolist())
