"""Who may speak to the page: the browser on this machine that was let in, and no other page.

Each request is looked at before any route sees it. A name that only leads here (DNS rebinding)
shows in Host; a page from elsewhere shows in Origin and in Sec-Fetch-Site (W3C, Fetch Metadata);
a program of another user on this machine has no token. RFC 6265bis tells cookies.
"""

import secrets
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

__all__ = ["MOST_ASKED", "SHELL_POLICY", "Door", "Guard"]

MOST_ASKED = 1_000_000  # bytes of what is asked in JSON
_HOST = "127.0.0.1"
_SAFE = ("GET", "HEAD")
_HTTP_PORT = 80  # is not told in Host
_ENTER = "/api/enter"
_UPLOADS = "/api/uploads"

SHELL_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
    "connect-src 'self'; frame-src 'self'; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'"
)
"""Content security policy of the page itself (W3C, Content Security Policy Level 3)."""

_BARE_POLICY = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'; sandbox"
_ALWAYS = {
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
}


@dataclass(frozen=True)
class Door:
    """What lets a browser in; made anew at each start.

    Attributes
    ----------
    port
        Where the page listens on 127.0.0.1.
    token
        Stands in the fragment of the address that is printed. A fragment is sent to no one.
    once
        Tokens that let in a single time: that of the browser which the command opens, for other
        users of the machine can read the command line of a browser.
    cookie
        What a browser that was let in shows from then on.
    """

    port: int
    token: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    once: set[str] = field(default_factory=set)
    cookie: str = field(default_factory=lambda: secrets.token_urlsafe(32))

    @property
    def host(self) -> str:
        """As a browser on this machine says it."""
        return _HOST if self.port == _HTTP_PORT else f"{_HOST}:{self.port}"

    @property
    def origin(self) -> str:
        """Of every request that the page itself makes."""
        return f"http://{self.host}"

    @property
    def cookie_name(self) -> str:
        """Of the cookie: cookies know no ports, so that the name has it."""
        return f"stitchpath-{self.port}"

    def address(self) -> str:
        """Give the address to be printed; it lets in as often as it is used."""
        return f"{self.origin}/#{self.token}"

    def address_once(self) -> str:
        """Give an address that lets in one browser, once."""
        token = secrets.token_urlsafe(32)
        self.once.add(token)
        return f"{self.origin}/#{token}"

    def lets_in(self, token: str) -> bool:
        """Tell whether a token opens, and use it up if it opens only once."""
        found = [known for known in self.once if _same(known, token)]
        self.once.difference_update(found)
        return bool(found) or _same(self.token, token)

    def knows(self, cookies: str) -> bool:
        """Tell whether a browser has been let in, by its Cookie header."""
        try:
            found = SimpleCookie(cookies).get(self.cookie_name)
        except CookieError:
            return False
        return found is not None and _same(self.cookie, found.value)


def _same(known: str, given: str) -> bool:
    """Compare without telling by the time it takes how much of it was right."""
    return secrets.compare_digest(known.encode(), given.encode("utf-8", "surrogatepass"))


class Guard:
    """Refuses what does not come from the page itself, and says on every answer what it may do.

    Parameters
    ----------
    app
        What answers the rest.
    door
        Who is let in.
    most_upload
        Bytes of an upload.
    """

    def __init__(self, app: ASGIApp, door: Door, most_upload: int) -> None:
        self._app, self._door, self._most_upload = app, door, most_upload

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer a request, or refuse it."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        if scope["type"] != "http":  # no web sockets here
            await send({"type": "websocket.close", "code": 1008})
            return

        async def sent(message: Message) -> None:
            if message["type"] == "http.response.start":
                _head(scope["path"], MutableHeaders(scope=message))
            await send(message)

        refused = self._refusal(scope)
        if refused is None:
            await self._app(scope, receive, sent)
            return
        status, sentence = refused
        answer = JSONResponse(
            {"problem": {"sentence": sentence, "path": None}}, status, {"Connection": "close"}
        )
        await answer(scope, receive, sent)

    def _refusal(self, scope: Scope) -> tuple[int, str] | None:
        """Tell why a request is refused: a status and a sentence; None where it is not."""
        headers, path = Headers(scope=scope), str(scope["path"])
        changes = scope["method"] not in _SAFE
        refused = self._from_elsewhere(headers, changes=changes)
        if refused is not None:
            return 403, refused
        if not path.isprintable() or ".." in path.split("/"):
            return 400, "found an address that cannot be, expected one of this page"
        if path.startswith("/api/") and path != _ENTER and not self._door.knows(_cookies(headers)):
            return 401, (
                "found a browser that was not let in, expected the address that stitchpath page "
                "prints when it starts"
            )
        most = self._most_upload if path == _UPLOADS else MOST_ASKED
        return _of_body(headers, most, path) if changes else None

    def _from_elsewhere(self, headers: Headers, *, changes: bool) -> str | None:
        """Tell that a request comes from another page than this one."""
        door, origins = self._door, headers.getlist("origin")
        if headers.getlist("host") != [door.host]:
            return f"found a request to another host, expected one to {door.host}"
        if any(origin != door.origin for origin in origins) or (changes and not origins):
            return "found a request from another page, expected one from this page"
        # "none" is what she typed herself or chose among bookmarks: nothing is changed by that.
        allowed = {"same-origin"} if changes else {"same-origin", "none"}
        if not set(headers.getlist("sec-fetch-site")) <= allowed:
            return "found a request from another site, expected one from this page"
        return None


def _cookies(headers: Headers) -> str:
    return "; ".join(headers.getlist("cookie"))


def _of_body(headers: Headers, most: int, path: str) -> tuple[int, str] | None:
    """Refuse a body before any of it is read; the server holds a body to the length it tells."""
    lengths = headers.getlist("content-length")
    if "transfer-encoding" in headers or len(lengths) != 1 or not lengths[0].isdecimal():
        return 411, "found a request that does not tell its length, expected one that does"
    if int(lengths[0]) > most:
        return 413, (
            f"found {int(lengths[0]) / 1e6:.1f} MB, expected at most {most / 1e6:.0f} MB at a time"
        )
    kind = headers.get("content-type", "").partition(";")[0].strip().lower()
    if path != _UPLOADS and kind != "application/json":
        return 415, "found a request that is not in JSON, expected application/json"
    return None


def _head(path: str, headers: MutableHeaders) -> None:
    """Say with an answer what a browser may do with it."""
    for name, value in _ALWAYS.items():
        headers[name] = value
    headers.setdefault("Content-Security-Policy", _BARE_POLICY)
    if "frame-ancestors 'self'" not in headers["Content-Security-Policy"]:
        headers["X-Frame-Options"] = "DENY"
    headers.setdefault("Cache-Control", "no-store" if path.startswith("/api/") else "no-cache")
