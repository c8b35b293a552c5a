"""The command blocks, for the list of them."""

from stitchpath.cli.screen import say
from stitchpath.design.library import library_block, library_names

__all__ = ["run"]


def run() -> None:
    """List the blocks of the library."""
    for each in library_names():
        block = library_block(each, "blocks")
        say(f"{each}: {', '.join(block.fabrics)}. {block.note}")
