"""Who asks for a page: somebody signed in, somebody at this very computer, or a stranger."""

from contextvars import ContextVar
from dataclasses import dataclass
from ipaddress import ip_address
from typing import Final
from urllib.parse import urlsplit

from starlette.datastructures import Headers
from starlette.types import Scope

from monitor.farm import Web
from monitor.model import Role

COOKIE: Final = "cormwatch"
LOOPBACK: Final = frozenset({"127.0.0.1", "localhost", "::1"})
_PASSED_ON: Final = (
    "forwarded", "via", "x-real-ip", "x-client-ip", "true-client-ip", "cf-connecting-ip",
    "x-cluster-client-ip", "x-original-host", "client-ip",
)  # fmt: skip
_OLD_HTTP: Final = frozenset({"0.9", "1.0"})
ACTING: ContextVar[str] = ContextVar("acting", default="")
"""The name of whoever is signed in, in whose name forms and programs act; else ``""``."""


@dataclass(frozen=True, slots=True)
class Visitor:
    """Who asks, and what may be done; ``session`` is the id of a browser's session.

    Somebody at this computer has a role and no name; a stranger has neither.
    """

    role: Role | None = None
    person: str = ""
    name: str = ""
    session: str = ""

    def may(self, needed: Role | None) -> bool:
        """Return whether a route that needs a role is open."""
        return needed is None or (self.role is not None and self.role.covers(needed))


STRANGER: Final = Visitor()
LOCAL: Final = Visitor(Role.CHANGE)


def host_of(netloc: str) -> str | None:
    """Return the host of a Host header, None where it is none."""
    try:
        parts = urlsplit(f"//{netloc}")
        _ = parts.port  # a port that is none raises here
    except ValueError:
        return None
    return parts.hostname


def loopback(address: str) -> bool:
    """Return whether an address or name is this computer's own."""
    try:
        return ip_address(address).is_loopback
    except ValueError:
        return address in LOOPBACK


def proxied(web: Web) -> bool:
    """Return whether the farm's file says that another server stands before the pages."""
    if web.base_url is None:
        return False
    base = urlsplit(web.base_url)
    if loopback(base.hostname or ""):
        return False
    return loopback(web.host) or (base.scheme == "https" and web.certificate is None)


def local(scope: Scope, web: Web) -> bool:
    """Return whether a request comes from a person or program at this very computer.

    Another server here passes strangers' requests on from the same address. So nothing is
    local that was passed on by its headers, that speaks the old HTTP by which servers pass
    on, or that asks for another name than this computer's own; and nothing at all where the
    farm's file names an address that only such a server can answer.
    """
    client, headers = scope.get("client"), Headers(scope=scope)
    if web.sign_in == "always" or proxied(web) or client is None or not loopback(client[0]):
        return False
    told = any(name.startswith("x-forwarded") or name in _PASSED_ON for name in headers)
    return (
        not told
        and scope.get("http_version", "1.0") not in _OLD_HTTP
        and loopback(host_of(headers.get("host", "")) or "")
    )


def secure(scope: Scope, web: Web) -> bool:
    """Return whether the browser speaks TLS, with us or with the server before us."""
    if scope["scheme"] == "https":
        return True
    base = urlsplit(web.base_url or "")
    return base.scheme == "https" and Headers(scope=scope).get("host") == base.netloc


def cookie_name(*, tls: bool) -> str:
    """Return the name of the session's cookie; the prefix binds it to this host and to TLS."""
    return f"__Host-{COOKIE}" if tls else COOKIE
