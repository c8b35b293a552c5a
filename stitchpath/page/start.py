"""What there is to begin with: shipped designs, files, drafts, and the words to choose from."""

import threading
from collections.abc import Iterator, Mapping
from concurrent.futures import Future
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from stitchpath.base.errors import unknown_name
from stitchpath.base.units import format_length
from stitchpath.design.library import library_block, library_names
from stitchpath.document.beginning import empty_text
from stitchpath.document.document import Document
from stitchpath.document.resizing import resizing_edits
from stitchpath.export.formats import ABOUT, GROUPS
from stitchpath.export.svg.small import small_block, small_top
from stitchpath.hands.pace import KINDS
from stitchpath.lines.fills.styles import STYLES
from stitchpath.page.sessions import Sessions
from stitchpath.page.shipped import shipped_design, shipped_designs
from stitchpath.told.top_data import size_words
from stitchpath.told.usual import usual_data
from stitchpath.top.block import draw_block
from stitchpath.top.build import Top, drawn_blocks

__all__ = ["Start", "block_picture", "empty_top", "formats", "library_picture", "resized"]


class _Shown:
    """A shipped design as the page shows it: made once, beside all else."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.top: Future[Top] = Future()
        self.picture: Future[bytes] = Future()

    def build(self) -> None:
        """Build its top."""
        with _handing_on(self.top):
            self.top.set_result(Document.read(shipped_design(self.name)).top)

    def draw(self) -> None:
        """Draw its top."""
        with _handing_on(self.picture):
            self.picture.set_result(small_top(self.top.result(), (), {}).encode())

    def told(self) -> dict[str, str]:
        """Tell of it, as soon as that is known."""
        top = self.top.result()
        return {
            "id": self.name,
            "title": top.name,
            "size": size_words(top),
            "picture": f"/api/shipped/{self.name}.svg",
        }


@contextmanager
def _handing_on(waited: Future[Any]) -> Iterator[None]:
    """Let who waits for something know what went wrong."""
    try:
        yield
    except Exception as error:  # noqa: BLE001 - raised where it is waited for
        waited.set_exception(error)


class Start:
    """What the first screen shows.

    Parameters
    ----------
    sessions
        The designs of the chosen folder.
    design
        A file to begin with, if one was named.
    profile
        The shop's profile that holds, if any.
    """

    def __init__(self, sessions: Sessions, design: str | None, profile: Path | None = None) -> None:
        self._sessions, self._design, self._profile = sessions, design, profile
        self._shown = {name: _Shown(name) for name in shipped_designs()}

    def begin(self) -> None:
        """Begin to draw the shipped designs."""

        def make() -> None:
            for shown in self._shown.values():
                shown.build()
            for shown in self._shown.values():
                shown.draw()

        threading.Thread(target=make, daemon=True).start()

    def told(self) -> dict[str, object]:
        """Tell all of it."""
        folder = self._sessions.folder
        return {
            "folder": str(folder.root),
            "open": self._design,
            "shipped": [shown.told() for shown in self._shown.values()],
            "files": folder.designs(),
            "drawings": folder.drawings(),
            "below": folder.below(),
            "recent": folder.recent(),
            "drafts": self._sessions.drafts(),
            "styles": list(STYLES),
            "usual": usual_data(),
            "kinds": list(KINDS),
            "profile": self._told_profile(),
            "blocks": [_block(name) for name in library_names()],
            "formats": formats(),
        }

    def _told_profile(self) -> dict[str, str] | None:
        """Name the shop's profile, and the kind of machine that it is for."""
        shop = self._sessions.profile
        if self._profile is None or shop is None:
            return None
        kind = shop.get("machine", {}).get("kind", "domestic")
        return {"file": str(self._profile), "kind": kind}

    def picture(self, name: str) -> bytes:
        """Give the picture of a shipped design.

        Raises
        ------
        StitchpathError
            When there is none of that name.
        """
        if name not in self._shown:
            shipped_design(name)
        return self._shown[name].picture.result()


def library_picture(name: str) -> str:
    """Draw a block of the library, a colour for each of its fabrics.

    Raises
    ------
    StitchpathError
        When there is none of that name.
    """
    block = library_block(name, "blocks")
    return small_block(draw_block(block.name, block, block, "in"))


def block_picture(document: Document, name: str) -> str:
    """Draw a block of a design in its fabrics.

    Raises
    ------
    StitchpathError
        When the design has none of that name, or it cannot be drawn.
    """
    blocks, more = drawn_blocks(document.design)
    if name not in blocks:
        raise unknown_name("blocks", "block", name, blocks)
    fabrics = {**document.design.fabrics, **more}
    return small_block(blocks[name], {f: fabric.colour for f, fabric in fabrics.items()})


def empty_top(asked: Mapping[str, Any]) -> str:
    """Write an empty top, as large as is asked.

    Raises
    ------
    StitchpathError
        When what is asked cannot be.
    """
    name, unit = asked.get("name"), asked.get("unit")
    return empty_text(
        name if isinstance(name, str) and name.strip() else "My quilt",
        unit if isinstance(unit, str) else "in",
        asked.get("columns", 0),
        asked.get("rows", 0),
        asked.get("size", ""),
    )


def resized(document: Document, name: str, size: str | float | None) -> str:
    """Write a design under another name, and at another size where one is asked for.

    Raises
    ------
    StitchpathError
        When it cannot be as large.
    """
    top = document.top
    longer = f"{max(top.width, top.height)} mm" if size is None else size
    return document.edited(resizing_edits(document, name, longer)).text


def formats() -> list[dict[str, object]]:
    """List what can be taken away, by what it is for."""
    return [
        {"group": group, "formats": [{"name": name, "words": ABOUT[name]} for name in names]}
        for group, names in GROUPS.items()
    ]


def _block(name: str) -> dict[str, object]:
    """Tell a block of the library."""
    block = library_block(name, "blocks")
    size = block.size if isinstance(block.size, tuple) else (block.size, block.size)
    return {
        "name": block.name,
        "words": block.note,
        "fabrics": list(block.fabrics),
        "size": " by ".join(format_length(side, "in") for side in dict.fromkeys(size)),
    }
