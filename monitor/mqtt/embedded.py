"""A broker of our own, for the demo and a first trial.

It dies with this process and may lose what is in flight: a farm runs a broker that
stands alone. It listens on the loopback only, lets nobody in without signing in, and
refuses new messages while too many wait. Two limits of amqtt 0.12.1 (tried): it answers
nobody who speaks MQTT 5, and a client that leaves right after many messages may lose some.
"""

import asyncio
import contextlib
import logging
import os
import secrets
import socket
import threading
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Final

from monitor.errors import BrokerError

if TYPE_CHECKING:
    from amqtt.broker import Broker

log = logging.getLogger(__name__)

HOST: Final = "127.0.0.1"
USER: Final = "cormwatch"
BACKLOG: Final = 10_000
_START_S: Final = 10.0
_STOP_S: Final = 1.5
_CLOSING_S: Final = 0.05
"""Time for the connections of clients to close before the loop does. [s]"""
_LISTENER: Final = "default"
_GATE: Final = "monitor.mqtt.gate.Gate"


def password_from(file: Path) -> str:
    """Return the password kept in a file only its owner may read, made on first use.

    A file that a power cut has emptied or filled with zeros gets a new one, which is told.

    Raises
    ------
    BrokerError
        If the file may be read by others.
    """
    with contextlib.suppress(FileExistsError):
        handle = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o600)
        with os.fdopen(handle, "w", encoding="utf-8") as fresh:
            fresh.write(secrets.token_urlsafe(24) + "\n")
    if file.stat().st_mode & 0o077:
        raise BrokerError(f"{file} holds a password and others may read it: chmod 600 it")
    password = file.read_bytes().strip(b"\0 \t\r\n").decode("utf-8", "replace")
    if not password:
        log.warning("%s held nothing: a new password is made", file)
        password = secrets.token_urlsafe(24)
        file.write_text(password + "\n", encoding="utf-8")
    return password


@dataclass
class EmbeddedBroker:
    """An amqtt broker in a thread and a loop of its own; ``port`` 0 takes a free one."""

    port: int = 0
    user: str = USER
    password: str = field(default_factory=lambda: secrets.token_urlsafe(24), repr=False)
    backlog: int = BACKLOG

    def __post_init__(self) -> None:
        self._loop: asyncio.AbstractEventLoop | None = None
        self._thread: threading.Thread | None = None
        self._broker: Broker | None = None
        self._failure: BaseException | None = None
        self._clients: set[asyncio.StreamWriter] = set()

    def start(self) -> int:
        """Start it and return its port.

        Raises
        ------
        BrokerError
            If the port is taken, or the broker cannot start.
        """
        door = _bound(self.port)
        self.port = door.getsockname()[1]
        started = threading.Event()
        self._failure = None
        self._thread = threading.Thread(
            target=self._run, args=(door, started), name="embedded-broker", daemon=True
        )
        self._thread.start()
        if not started.wait(_START_S) or self._failure is not None:
            self.stop()
            raise BrokerError(
                f"the embedded broker did not start on {HOST}:{self.port} "
                f"({self._failure or 'no answer'}); name another port, or a broker of your own"
            )
        return self.port

    def stop(self) -> None:
        """Stop it within two seconds; what it held is gone."""
        loop, thread = self._loop, self._thread
        if loop is not None and thread is not None and thread.is_alive():
            with contextlib.suppress(RuntimeError):  # the loop has just ended by itself
                loop.call_soon_threadsafe(self._ending.set)
            thread.join(_STOP_S + 1.0)
        self._loop = self._thread = self._broker = None

    @property
    def alive(self) -> bool:
        """True while its thread runs."""
        return self._thread is not None and self._thread.is_alive()

    def refused(self) -> int:
        """Return how many messages were refused because too many waited."""
        from monitor.mqtt.gate import refused_by  # noqa: PLC0415  # only where it runs

        return refused_by(self._broker) if self._broker is not None else 0

    def _run(self, door: socket.socket, started: threading.Event) -> None:
        for noisy in ("amqtt", "transitions"):
            logging.getLogger(noisy).setLevel(logging.CRITICAL)
        try:
            with door, asyncio.Runner() as runner:
                self._loop = runner.get_loop()
                self._loop.set_exception_handler(_keep_quiet)
                runner.run(self._serve(door, started))
        except Exception as failure:  # noqa: BLE001  # told by start(), or seen in alive
            self._failure = failure
        finally:
            started.set()

    async def _serve(self, door: socket.socket, started: threading.Event) -> None:
        from amqtt.broker import Broker  # noqa: PLC0415  # heavy, and seldom needed

        self._ending = asyncio.Event()
        self._broker = broker = Broker(self._configuration())
        await broker.start()
        server = await asyncio.start_server(partial(self._joined, broker), sock=door)
        started.set()
        await self._ending.wait()
        server.close()
        with contextlib.suppress(TimeoutError):
            await asyncio.wait_for(broker.shutdown(), _STOP_S)
        for client in self._clients:
            client.transport.abort()
        await asyncio.sleep(_CLOSING_S)

    async def _joined(
        self, broker: "Broker", reader: asyncio.StreamReader, writer: asyncio.StreamWriter
    ) -> None:
        from amqtt.adapters import StreamReaderAdapter, StreamWriterAdapter  # noqa: PLC0415

        self._clients.add(writer)
        try:
            await broker.external_connected(
                StreamReaderAdapter(reader), StreamWriterAdapter(writer), _LISTENER
            )
        finally:
            self._clients.discard(writer)
            writer.close()

    def _configuration(self) -> dict[str, object]:
        gate = {"user": self.user, "password": self.password, "backlog": self.backlog}
        return {
            "listeners": {_LISTENER: {"type": "external"}},
            "plugins": {_GATE: gate},
        }


def _keep_quiet(_loop: asyncio.AbstractEventLoop, context: dict[str, object]) -> None:
    """Note what the broker's own tasks leave behind, where someone looks for it."""
    log.debug("embedded broker: %s", context.get("exception") or context.get("message"))


def _bound(port: int) -> socket.socket:
    """Return a listening socket on the port, or on a free one for 0."""
    try:
        return socket.create_server((HOST, port))
    except OSError as failure:
        raise BrokerError(
            f"port {port} on {HOST} cannot be had ({failure.strerror}): another broker is "
            "running there; use that one, or name another port"
        ) from failure
