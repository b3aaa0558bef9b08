"""Serves the pages inside the daemon's own loop."""

import asyncio
import contextlib
import socket
from collections.abc import Iterator

import uvicorn
from fastapi import FastAPI

from monitor.errors import BusyError
from monitor.web.changes import Changes

_GRACE_S = 2


class _Server(uvicorn.Server):
    """A server that leaves the signals to the daemon."""

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Take no signal: the daemon stops this server."""
        yield


def listen(host: str, port: int) -> socket.socket:
    """Return a socket that listens; port 0 takes a free one.

    Raises
    ------
    BusyError
        If the address cannot be had.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    door = socket.socket(family, socket.SOCK_STREAM)
    door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        door.bind((host, port))
    except OSError as failure:
        door.close()
        raise BusyError(
            f"the pages cannot be served at {host}:{port} ({failure.strerror}): "
            "name another port with --port, or [web] port in farm.toml"
        ) from failure
    return door


async def serve(app: FastAPI, door: socket.socket, changes: Changes) -> None:
    """Serve until cancelled; open streams do not hold up the end."""
    server = _Server(
        uvicorn.Config(
            app,
            log_level="warning",
            access_log=False,
            lifespan="on",
            ws="none",
            timeout_graceful_shutdown=_GRACE_S,
        )
    )
    task = asyncio.create_task(server.serve(sockets=[door]))
    try:
        await asyncio.shield(task)
    finally:
        changes.close()
        server.should_exit = True
        with contextlib.suppress(asyncio.CancelledError):
            await task
