"""The command blocks, for the picture of one."""

from pathlib import Path

from stitchpath.cli.commands.asked import picture_kind
from stitchpath.cli.screen import say
from stitchpath.design.library import library_block
from stitchpath.export.files import write_whole
from stitchpath.export.mark import stamp
from stitchpath.export.picture import draw_block_picture
from stitchpath.top.block import draw_block

__all__ = ["run"]


def run(name: str, output: Path | None, *, force: bool) -> None:
    """Draw a block of the library."""
    block = library_block(name, "blocks")
    drawn = draw_block(block.name, block, block, "in")
    output = output or Path(block.name.replace(" ", "-").replace("'", "") + ".svg")
    picture = draw_block_picture(drawn, picture_kind(output))
    write_whole({output: stamp(output.name, picture)}, force=force)
    say(f"{block.name}: {len(drawn.patches)} patches of {', '.join(block.fabrics)}. {block.note}")
    say(f"wrote {output}")
