"""Keeps strangers' pages out: which hosts are answered, which posts are ours.

The pages listen on this computer only (loopback) and need no sign-in there. A page from
elsewhere in the same browser must still not act in the grower's name: the host must be
one of ours, a post must come from our own page, and a form carries the key it was given.

References
----------
OWASP cheat sheets: cross-site request forgery prevention; HTTP headers (from memory).
"""

import secrets
from typing import Final
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from monitor.farm import Web

_LOOPBACK: Final = frozenset({"127.0.0.1", "localhost", "::1"})
_EVERYWHERE: Final = frozenset({"", "0.0.0.0", "::"})  # noqa: S104  # no host of its own to allow
_OWN_SITES: Final = frozenset({"same-origin", "none"})
_READING: Final = frozenset({"GET", "HEAD"})
BODY_AT_MOST: Final = 65_536
HEADERS: Final = {
    "Content-Security-Policy": (
        "default-src 'self'; object-src 'none'; base-uri 'none'; form-action 'self'; "
        "frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",  # no-referrer would hide a form's own origin
    "Cross-Origin-Resource-Policy": "same-origin",
}


class FormKey:
    """The key that this run's pages were given; a form must bring it back."""

    def __init__(self) -> None:
        self.value: Final = secrets.token_urlsafe(18)

    def fits(self, key: str) -> bool:
        """Return whether a post carries it."""
        return secrets.compare_digest(key.encode(), self.value.encode())


def known_hosts(web: Web) -> frozenset[str]:
    """Return the host names that the pages answer to."""
    own = urlsplit(web.base_url).hostname if web.base_url else None
    named = {own} if own else set()
    return _LOOPBACK | named | ({web.host} - _EVERYWHERE)


def _host(netloc: str) -> str | None:
    try:
        parts = urlsplit(f"//{netloc}")
        _ = parts.port  # a port that is none raises here
    except ValueError:
        return None
    return parts.hostname


class Guard:
    """Refuses foreign hosts, foreign posts and oversized bodies before anything is looked at."""

    def __init__(self, app: ASGIApp, web: Web) -> None:
        self._app = app
        self._hosts = known_hosts(web)
        self._base = urlsplit(web.base_url).netloc if web.base_url else None

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, or refuse."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        kept = _Headed(send, scope["path"])
        refusal = self._refusal(scope["method"], Headers(scope=scope))
        if refusal is not None:
            await PlainTextResponse(refusal, status_code=400)(scope, receive, kept)
            return
        await self._app(scope, _Bounded(receive), kept)

    def _refusal(self, method: str, headers: Headers) -> str | None:
        if _host(headers.get("host", "")) not in self._hosts:
            return "this address is not one of the farm's: set [web] base_url in farm.toml\n"
        if method not in _READING and self._foreign(headers):
            return "a page from elsewhere may not act here\n"
        length = headers.get("content-length", "0")
        if not length.isdecimal() or int(length) > BODY_AT_MOST:
            return "the body is too large\n"
        return None

    def _foreign(self, headers: Headers) -> bool:
        """Return whether a browser says that a post comes from somebody else's page."""
        if headers.get("sec-fetch-site", "none") not in _OWN_SITES:
            return True
        origin = headers.get("origin")
        if origin is None:
            return False
        try:
            netloc = urlsplit(origin).netloc
        except ValueError:
            return True
        return netloc not in {headers.get("host"), self._base} - {None, ""}


class _Bounded:
    """Passes a body on, and ends one that grows past the limit without having said so."""

    def __init__(self, receive: Receive) -> None:
        self._receive = receive
        self._length = 0

    async def __call__(self) -> Message:
        message = await self._receive()
        self._length += len(message.get("body", b""))
        if self._length > BODY_AT_MOST:
            return {"type": "http.disconnect"}
        return message


class _Headed:
    """Adds the headers that every answer carries."""

    def __init__(self, send: Send, path: str) -> None:
        self._send = send
        self._keep = "no-cache" if path.startswith(("/static/", "/vendor/")) else "no-store"

    async def __call__(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
            headers.setdefault("Cache-Control", self._keep)
        await self._send(message)
