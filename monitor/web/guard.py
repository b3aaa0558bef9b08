"""Keeps strangers' pages out: which hosts are answered, which posts are ours.

The pages listen on this computer only (loopback) and need no sign-in there. A page from
elsewhere in the same browser must still not act in the grower's name: the host must be
one of ours, and a post carries the key that our own page was given.

References
----------
OWASP cheat sheets: cross-site request forgery prevention; HTTP headers (from memory).
"""

import secrets
from collections.abc import Awaitable, Callable
from typing import Final
from urllib.parse import urlsplit

from fastapi import Request, Response
from fastapi.responses import PlainTextResponse

_LOOPBACK: Final = frozenset({"127.0.0.1", "localhost", "[::1]", "::1"})
BODY_AT_MOST: Final = 65_536
HEADERS: Final = {
    "Content-Security-Policy": (
        "default-src 'self'; object-src 'none'; base-uri 'none'; form-action 'self'; "
        "frame-ancestors 'none'; style-src 'self' 'unsafe-inline'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
}

Next = Callable[[Request], Awaitable[Response]]


class Guard:
    """Refuses foreign hosts, oversized bodies and posts without the page's key."""

    def __init__(self, base_url: str | None) -> None:
        own = urlsplit(base_url).hostname if base_url else None
        self._hosts = _LOOPBACK | ({own} if own else set())
        self.form_key = secrets.token_urlsafe(18)

    def knows_key(self, key: str) -> bool:
        """Return whether a post carries the key that this run's pages were given."""
        return secrets.compare_digest(key.encode(), self.form_key.encode())

    def _refusal(self, request: Request) -> str | None:
        if request.url.hostname not in self._hosts:
            return "this address is not one of the farm's: set [web] base_url in farm.toml"
        origin = request.headers.get("origin")
        if request.method != "GET" and origin and urlsplit(origin).hostname not in self._hosts:
            return "a page from elsewhere may not act here"
        length = request.headers.get("content-length", "0")
        if not length.isdecimal() or int(length) > BODY_AT_MOST:
            return "the body is too large"
        return None

    async def __call__(self, request: Request, call_next: Next) -> Response:
        """Answer, or refuse before anything is looked at."""
        refusal = self._refusal(request)
        response = (
            PlainTextResponse(refusal, status_code=400) if refusal else await call_next(request)
        )
        for name, value in HEADERS.items():
            response.headers.setdefault(name, value)
        return response
