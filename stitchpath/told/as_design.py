"""A drawn top as the text of a design that she can go on with."""

from collections import Counter
from collections.abc import Iterator

from stitchpath.base.escape import toml_text
from stitchpath.base.units import Unit, format_count, format_length, parse_length
from stitchpath.design.drawings.words import UNKNOWN
from stitchpath.design.model import Design
from stitchpath.geometry.tolerances import GRID
from stitchpath.top.build import Top

__all__ = ["design_text"]

_LISTED = 60  # patches named in a comment


def design_text(design: Design, top: Top, drawing: str) -> str:
    """Write a design of a drawn top, each thing found with a comment.

    Parameters
    ----------
    design
        The design that was made of the drawing.
    top
        Its top.
    drawing
        The drawing, as seen from where the design will lie.
    """
    return "\n".join(_lines(design, top, drawing)) + "\n"


def _exact(mm: float, unit: Unit) -> str:
    """Write a length in her unit where that is exact, else in mm."""
    words = format_length(mm, unit)
    return words if abs(parse_length(words, unit) - mm) < GRID else f"{mm:.10g} mm"


def _lines(design: Design, top: Top, drawing: str) -> Iterator[str]:
    asked, taken = design.top, top.taken
    if asked is None or taken is None:
        return
    wide, high = (format_length(v, top.unit) for v in (top.width, top.height))
    yield f"name = {toml_text(design.name)}"
    yield f'unit = "{design.unit}"'
    yield ""
    yield f"# The finished top: {wide} by {high}, {format_count(len(top.patches), 'patch')}."
    yield "[top]"
    yield f"drawing = {toml_text(drawing)}"
    if asked.size is not None:
        yield f'size = "{_exact(asked.size, top.unit)}"'
    if asked.unit is not None:
        yield f'unit = "{asked.unit}"'
    yield f'tolerance = "{asked.tolerance:g} mm"  # {_healed(top)}'
    if taken.pieces:
        yield 'fused = "after"  # the appliqué: "before" or "after" the top is quilted'
    for said in taken.told:
        yield f"# {_plain(said)}"
    yield "# What shapes are meant to be: patch, seam, edge, appliqué, quilting, guide, leave out."
    yield "# Those found by a rule stand behind #; take it away, with another role if it is wrong."
    yield "[top.roles]"
    seen: set[str] = set()
    for guess in taken.guesses:
        said = f"{format_count(guess.count, 'shape')}, {_plain(guess.why)}"
        line = f'{toml_text(guess.key)} = "{guess.role}"  # {said}'
        yield f"# {line}" if guess.key not in asked.roles or guess.key in seen else line
        seen.add(guess.key)
    yield from _fabrics(top)
    yield ""
    yield "[lines]"
    yield 'ditch = "all"'


def _fabrics(top: Top) -> Iterator[str]:
    """List fabrics by colour, and patches by fabric."""
    counts = Counter(patch.fabric for patch in top.patches)
    yield ""
    if not top.pressed:
        yield "# The drawing does not tell the fabrics, so no low side is known. Fill the patches"
        yield "# in the drawing, each with the colour of its fabric, to have it told."
    yield "# A name of yours in place of one found goes wherever the fabric is told."
    yield "[fabrics]"
    for name, fabric in top.fabrics.items():
        if name == UNKNOWN:
            continue
        yield f'{toml_text(name)} = "{fabric.colour}"  # {format_count(counts[name], "patch")}'
    yield ""
    yield "# Patches by name, to be pointed at in [lines], [[fills]] and [press]:"
    for patch in top.patches[:_LISTED]:
        yield f"#   {_plain(patch.label)}"
    if len(top.patches) > _LISTED:
        yield f"#   and {len(top.patches) - _LISTED} more: see the picture of what was taken"


def _healed(top: Top) -> str:
    taken = top.taken
    if taken is None or not taken.mended:
        return "ends within this of each other meet; nothing had to be healed"
    most = max(mended.far for mended in taken.mended)
    return f"{format_count(len(taken.mended), 'place')} healed, by up to {most:.2f} mm"


def _plain(text: str) -> str:
    """Keep a comment on its line."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())
