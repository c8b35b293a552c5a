"""The server of the page: on this machine only, from a start to Ctrl-C."""

import contextlib
import socket
import webbrowser
from collections.abc import Callable
from pathlib import Path

import uvicorn
from starlette.types import ASGIApp

from stitchpath.base.errors import StitchpathError
from stitchpath.page.app import page_app
from stitchpath.page.folder import DESIGN, DRAWINGS, Folder
from stitchpath.page.guard import Door
from stitchpath.page.kept import keeping_place

__all__ = ["listen", "page_server", "serve"]

_HOST = "127.0.0.1"
_LAST_PORT = 65_535


class _Server(uvicorn.Server):
    """Tells when it listens."""

    def __init__(self, config: uvicorn.Config, listening: Callable[[], None]) -> None:
        super().__init__(config)
        self._listening = listening

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Begin to listen, and tell."""
        await super().startup(sockets)
        if self.started:
            self._listening()


def serve(
    folder: Path,
    *,
    design: str | None = None,
    port: int = 0,
    browser: bool = True,
    profile: Path | None = None,
    say: Callable[[str], None],
) -> None:
    """Serve the page until Ctrl-C.

    Parameters
    ----------
    folder
        The only place that is read from and written to.
    design
        A design in it to begin with, or a drawing of a top.
    port
        Where to listen; 0 for any that is free.
    browser
        Whether to open the browser.
    profile
        A shop's profile, which holds where a design leaves it open.
    say
        Called with what there is to tell.

    Raises
    ------
    StitchpathError
        When the folder, the design or the profile is none, or the port is taken.
    """
    chosen = Folder(folder)
    if design is not None and not chosen.has(design, DESIGN, *DRAWINGS):
        raise StitchpathError(
            f"{design}: found no such file, expected a design ending in {DESIGN}, or a drawing "
            f"of a top ending in {' or '.join(DRAWINGS)}"
        )
    with contextlib.closing(listen(port)) as place:
        door = Door(place.getsockname()[1])

        def ready() -> None:
            say(f"the page is at {door.address()}")
            say(f"it works in {chosen.root}; end it with Ctrl-C, what is not saved is kept")
            if browser:
                webbrowser.open(door.address_once())

        app = page_app(chosen, door, design, profile=profile, plans=keeping_place())
        with contextlib.suppress(KeyboardInterrupt):
            page_server(app, ready).run(sockets=[place])


def page_server(app: ASGIApp, ready: Callable[[], None]) -> uvicorn.Server:
    """Make the server of a page.

    Parameters
    ----------
    app
        The page.
    ready
        Called when it listens.
    """
    config = uvicorn.Config(
        app,
        log_level="critical",
        access_log=False,
        server_header=False,
        date_header=False,
        proxy_headers=False,
        ws="none",
        http="h11",
        loop="asyncio",
        lifespan="on",
        limit_concurrency=100,
        timeout_graceful_shutdown=1,
    )
    return _Server(config, ready)


def listen(port: int) -> socket.socket:
    """Take a port of this machine; nobody reaches it from another.

    Parameters
    ----------
    port
        Which; 0 for any that is free.

    Raises
    ------
    StitchpathError
        When it cannot be taken.
    """
    if not 0 <= port <= _LAST_PORT:
        raise StitchpathError(f"found {port}, expected a port of 1 to {_LAST_PORT}").of_argument(
            "port"
        )
    made = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        made.bind((_HOST, port))
    except OSError as error:
        made.close()
        reason = (error.strerror or "cannot be used").lower()
        raise StitchpathError(
            f"found port {port} ({reason}), expected a free one; left out, one is chosen"
        ).of_argument("port") from None
    return made
