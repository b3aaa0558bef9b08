"""Connections to the pages that nobody can hold for nothing: each has its time, all have a number.

A request has to be there whole within some time, whatever part of it is missing: head or body.
Whoever is sent something has to take it. Where too many connections are open, the one that has
waited longest without a whole request makes room. An open live page is none of these: it asked
at once, and takes what it is sent.

References
----------
OWASP, denial of service cheat sheet: absolute connection timeouts, limits by address (from
memory).
"""

import asyncio
import contextlib
import socket
from typing import Any, ClassVar, Final, NamedTuple

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

from monitor.access.slowing import stranger
from monitor.clock import monotonic_s
from monitor.web.visitor import loopback

WHOLE_S: Final = 30.0
TAKEN_S: Final = 60.0
AT_MOST: Final = 256
EACH_AT_MOST: Final = 128  # one address may be a server in front, for all visitors
SHAKEN_S: Final = 10.0
HALF_AT_MOST: Final = 96
HALF_OF_ONE: Final = 32
_UNFINISHED: Final = (h11.IDLE, h11.SEND_BODY)


class BoundedDoor(socket.socket):
    """A listening socket on which connections that are not made yet, by TLS, do not pile up.

    One that has shaken hands for too long ends at the next knock; too many of one address, or
    in all, and the oldest of them ends.
    """

    half: ClassVar[dict[int, "_Half"]] = {}

    def accept(self) -> tuple[socket.socket, Any]:
        """Take the next connection, and end what has been half-made for too long."""
        line, address = super().accept()
        now_s = monotonic_s()
        new = _Half(line, stranger(str(address[0])).name, now_s)
        self.half[line.fileno()] = new
        self._make_room(new.source, now_s)
        return line, address

    def _make_room(self, source: str, now_s: float) -> None:
        for number, each in list(self.half.items()):
            if each.line.fileno() != number:  # closed meanwhile
                del self.half[number]
            elif now_s - each.since_s > SHAKEN_S:
                self._end(number)
        alike = [number for number, each in self.half.items() if each.source == source]
        if len(alike) > HALF_OF_ONE:
            self._end(alike[0])
        elif len(self.half) > HALF_AT_MOST:
            self._end(next(iter(self.half)))

    def _end(self, number: int) -> None:
        with contextlib.suppress(OSError):
            self.half.pop(number).line.shutdown(socket.SHUT_RDWR)


class _Half(NamedTuple):
    """A connection that is not made yet, where it comes from, and since when. [s]"""

    line: socket.socket
    source: str
    since_s: float


class BoundedProtocol(H11Protocol):
    """One connection, with its deadlines. [s]"""

    whole_s = WHOLE_S
    taken_s = TAKEN_S
    at_most = AT_MOST
    each_at_most = EACH_AT_MOST
    _whole: asyncio.TimerHandle | None = None
    _taken: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin, if there is room."""
        super().connection_made(transport)
        BoundedDoor.half.pop(transport.get_extra_info("socket").fileno(), None)
        self._expect_whole()
        self._make_room()

    def connection_lost(self, exc: Exception | None) -> None:
        """End, and look no more."""
        for timer in (self._whole, self._taken):
            _ended(timer)
        self._whole = self._taken = None
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Take what came, and see whether the request is whole."""
        super().data_received(data)
        self._expect_whole()

    def on_response_complete(self) -> None:
        """Wait for the next request."""
        super().on_response_complete()
        self._expect_whole()

    def pause_writing(self) -> None:
        """Note that what was sent is not taken."""
        super().pause_writing()
        _ended(self._taken)
        self._taken = self.loop.call_later(self.taken_s, self.drop)

    def resume_writing(self) -> None:
        """Note that it was taken after all."""
        super().resume_writing()
        _ended(self._taken)

    def _expect_whole(self) -> None:
        """Let time run while a request is missing or in part, or a last answer is not taken."""
        if self.conn.their_state not in _UNFINISHED and not self.transport.is_closing():
            _ended(self._whole)
            self._whole = None
        elif self._whole is None:
            self._whole = self.loop.call_later(self.whole_s, self.drop)

    def drop(self) -> None:
        """End it now, whatever was sent."""
        self.transport.abort()

    def _make_room(self) -> None:
        """Drop what has waited longest where there are too many, of one address or in all."""
        open_ = [each for each in self.connections if isinstance(each, BoundedProtocol)]
        own = self.address()
        alike = [] if loopback(own) else [each for each in open_ if each.address() == own]
        for some, most in ((alike, self.each_at_most), (open_, self.at_most)):
            if len(some) > most:
                min(some, key=BoundedProtocol.drops_at_s).drop()
                return

    def drops_at_s(self) -> float:
        """Return when it would be dropped anyway; what waits for nothing goes last. [s]"""
        return float("inf") if self._whole is None else self._whole.when()

    def address(self) -> str:
        """Return whom this connection counts for."""
        return stranger(self.client[0] if self.client else "").name


def _ended(timer: asyncio.TimerHandle | None) -> None:
    if timer is not None:
        timer.cancel()
