"""Serves the pages inside the daemon's own loop."""

import asyncio
import contextlib
import socket
from collections.abc import Iterator

import uvicorn
from fastapi import FastAPI
from starlette.applications import Starlette

from monitor.access.accounts import accounts_of
from monitor.daemon.connections import BoundedDoor, BoundedProtocol
from monitor.daemon.encrypting import follow
from monitor.errors import BusyError, FarmError
from monitor.farm import Farm, Web
from monitor.web.changes import Changes
from monitor.web.visitor import loopback

_GRACE_S = 2
_WAITING = 100


class _Server(uvicorn.Server):
    """A server that leaves the signals to the daemon."""

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Take no signal: the daemon stops this server."""
        yield


def refuse_open(farm: Farm, host: str) -> None:
    """Refuse to be reached from the network while nobody has a password.

    Raises
    ------
    FarmError
        If that is how it stands.
    """
    if loopback(host) or any(
        account.password and person in farm.people
        for person, account in accounts_of(farm.directory).all().items()
    ):
        return
    raise FarmError(
        f"the pages would be open to the network at {host}, and nobody has a password: set one "
        "with cormwatch people password NAME, or keep [pages] listen at 127.0.0.1"
    )


def listen(host: str, port: int) -> socket.socket:
    """Return a socket that listens; port 0 takes a free one.

    Raises
    ------
    BusyError
        If the address cannot be had.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    # Named as TCP, it is told not to wait for more: else each answer takes 40 ms longer.
    door = BoundedDoor(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        door.bind((host, port))
        door.listen(_WAITING)  # only now is the port really ours
    except (OSError, OverflowError) as failure:
        door.close()
        why = failure.strerror if isinstance(failure, OSError) else "ports go up to 65535"
        raise BusyError(
            f"the pages cannot be served at {host}:{port} ({why}): "
            "name another port with --port, or [pages] listen in farm.toml"
        ) from failure
    return door


def _server(app: Starlette, web: Web) -> _Server:
    return _Server(
        uvicorn.Config(
            app,
            ssl_certfile=web.certificate,
            ssl_keyfile=web.key,
            http=BoundedProtocol,
            log_level="error",  # what strangers send amiss would fill the log
            proxy_headers=False,  # what they say is never believed
            server_header=False,
            access_log=False,
            lifespan="on",
            ws="none",
            timeout_graceful_shutdown=_GRACE_S,
        )
    )


async def serve_app(app: Starlette, door: socket.socket) -> None:
    """Serve an application without live pages until cancelled."""
    server = _server(app, Web())
    task = asyncio.create_task(server.serve(sockets=[door.dup()]))
    try:
        await asyncio.shield(task)
    finally:
        server.should_exit = True
        with contextlib.suppress(asyncio.CancelledError):
            await task


async def serve(app: FastAPI, door: socket.socket, changes: Changes, web: Web) -> None:
    """Serve until cancelled; open streams do not hold up the end.

    Raises
    ------
    RuntimeError
        If the server ends by itself.
    """
    server = _server(app, web)
    server.config.load()
    following = None
    if server.config.ssl is not None:
        following = asyncio.create_task(follow(server.config.ssl, web))
    changes.open()
    # The server closes what it is given; the door itself is kept for another start.
    task = asyncio.create_task(server.serve(sockets=[door.dup()]))
    try:
        await asyncio.shield(task)
        raise RuntimeError("the server of the pages ended by itself")
    finally:
        changes.close()
        if following is not None:
            following.cancel()
        server.should_exit = True
        with contextlib.suppress(asyncio.CancelledError):
            await task
