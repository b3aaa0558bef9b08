"""Keeps strangers' pages out: which hosts are answered, which posts are ours.

Who signs in, and who need not, is another matter (``monitor.web.admission``). Whoever it is,
a page from elsewhere in the same browser must not act in the grower's name: the host must be
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

from monitor.access.authority import CERTIFICATE
from monitor.farm import Web
from monitor.web.visitor import LOOPBACK, host_of, secure

_EVERYWHERE: Final = frozenset({"", "0.0.0.0", "::"})  # noqa: S104  # no host of its own to allow
_OWN_SITES: Final = frozenset({"same-origin", "none"})
READING: Final = frozenset({"GET", "HEAD"})
BODY_AT_MOST: Final = 65_536
HEADERS: Final = {
    "Content-Security-Policy": (
        "default-src 'self'; object-src 'none'; base-uri 'none'; form-action 'self'; "
        "frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",  # no-referrer would hide a form's own origin
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
}
_ONLY_TLS: Final = "max-age=31536000"  # a year: OWASP HTTP headers cheat sheet (from memory)


class FormKey:
    """The key that a visitor's pages were given; a form must bring it back.

    It is this run's, or that of a session.
    """

    def __init__(self, value: str = "") -> None:
        self.value: Final = value or secrets.token_urlsafe(18)

    def fits(self, key: str) -> bool:
        """Return whether a post carries it."""
        return secrets.compare_digest(key.encode(), self.value.encode())


def known_hosts(web: Web) -> frozenset[str]:
    """Return the host names that the pages answer to."""
    own = urlsplit(web.base_url).hostname if web.base_url else None
    named = {own} if own else set()
    return LOOPBACK | named | ({web.host, *web.hosts} - _EVERYWHERE)


def own_made(web: Web) -> bool:
    """Return whether the certificate is the farm's own, which its browsers must be able to pass by.

    Under strict transport a browser offers no way past one that has ended or is not trusted.
    """
    return web.certificate is not None and web.certificate.match(CERTIFICATE)


def own_origins(scope: Scope, web: Web) -> frozenset[str]:
    """Return what a browser calls the place that our own pages come from."""
    base = urlsplit(web.base_url) if web.base_url else None
    here = f"{scope['scheme']}://{Headers(scope=scope).get('host', '')}"
    return frozenset({here, *([f"{base.scheme}://{base.netloc}"] if base else [])})


def says_own(scope: Scope, web: Web) -> bool:
    """Return whether a browser says that a request comes from a page of ours."""
    headers = Headers(scope=scope)
    if headers.get("sec-fetch-site") == "same-origin":
        return True
    return headers.get("origin") in own_origins(scope, web)


class Guard:
    """Refuses foreign hosts, foreign posts and oversized bodies before anything is looked at."""

    def __init__(self, app: ASGIApp, web: Web) -> None:
        self._app = app
        self._web = web
        self._hosts = known_hosts(web)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, or refuse."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        host = host_of(Headers(scope=scope).get("host", ""))
        strict = secure(scope, self._web) and host not in LOOPBACK and not own_made(self._web)
        kept = _Headed(send, scope["path"], strict=strict)
        refusal = self._refusal(scope, host)
        if refusal is not None:
            closing = {"Connection": "close"}  # nothing behind it is taken for a request
            await PlainTextResponse(refusal, 400, closing)(scope, receive, kept)
            return
        await self._app(scope, _Bounded(receive), kept)

    def _refusal(self, scope: Scope, host: str | None) -> str | None:
        headers = Headers(scope=scope)
        if host not in self._hosts and not _reached_by_address(scope, host):
            return "this address is not one of the farm's: set [pages] base_url in farm.toml\n"
        if scope["method"] not in READING and self._foreign(scope, headers):
            return "a page from elsewhere may not act here\n"
        if "content-length" in headers and "transfer-encoding" in headers:
            return "a body has one length\n"
        length = headers.get("content-length", "0")
        if not length.isdecimal() or int(length) > BODY_AT_MOST:
            return "the body is too large\n"
        return None

    def _foreign(self, scope: Scope, headers: Headers) -> bool:
        """Return whether a browser says that a post comes from somebody else's page."""
        if headers.get("sec-fetch-site", "none") not in _OWN_SITES:
            return True
        origin = headers.get("origin")
        return origin is not None and origin not in own_origins(scope, self._web)


def _reached_by_address(scope: Scope, host: str | None) -> bool:
    """Return whether a host is the very address that the request came in by.

    No name can be made to stand for it, so nobody else's page can ask for it as its own.
    """
    server = scope.get("server")
    return server is not None and host is not None and host == server[0]


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

    def __init__(self, send: Send, path: str, *, strict: bool) -> None:
        self._send = send
        self._strict = strict
        self._keep = "no-cache" if path.startswith(("/static/", "/vendor/")) else "no-store"

    async def __call__(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
            headers.setdefault("Cache-Control", self._keep)
            if self._strict:
                headers.setdefault("Strict-Transport-Security", _ONLY_TLS)
        await self._send(message)
