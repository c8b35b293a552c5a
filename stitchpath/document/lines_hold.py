"""What a design says of its lines, held against its top by names alone: quick for each edit."""

import numpy as np

from stitchpath.base.errors import unknown_name
from stitchpath.design.model import Design, Fill
from stitchpath.lines.ditch import chosen_seams
from stitchpath.lines.regions import NamedRegions
from stitchpath.thread.from_design import stitching_of
from stitchpath.top.build import Top

__all__ = ["refuse_lines"]


def refuse_lines(design: Design, top: Top) -> None:
    """Refuse seams, regions, fabrics and threads that are not there.

    Parameters
    ----------
    design, top
        The design and its top.

    Raises
    ------
    StitchpathError
        As the lines would when they are made, which takes longer.
    """
    stitching_of(design)
    lines = design.lines
    if lines.include or lines.exclude or lines.feature or "feature" in lines.ditch:
        chosen_seams(top, lines)
    for key in ("applique", "drawn", "motifs", "fills"):
        for k, asked in enumerate(getattr(design, key)):
            if asked.thread is not None and asked.thread not in design.threads:
                where = f"{key}[{k + 1}].thread"
                raise unknown_name(where, "thread", asked.thread, design.threads)
    named = NamedRegions(top, np.zeros(len(top.seams), dtype=np.bool_))
    for k, fill in enumerate(design.fills):
        named.refuse(fill, f"fills[{k + 1}].{'fabric' if fill.fabric else 'region'}")
    for k, motif in enumerate(design.motifs):
        named.refuse(Fill.model_construct(region=motif.region), f"motifs[{k + 1}].region")
