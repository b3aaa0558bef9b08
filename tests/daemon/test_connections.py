"""Connections that keep a socket for nothing, by real sockets: each is bounded, the pages go on."""

import asyncio
import contextlib
import socket
import ssl
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import asynccontextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

import pytest
from fastapi import FastAPI, Request, Response
from fastapi.responses import PlainTextResponse, StreamingResponse

from monitor.access.authority import AUTHORITY, CERTIFICATE, KEY
from monitor.access.certificate import make
from monitor.daemon.connections import HALF_OF_ONE, WHOLE_S, BoundedProtocol
from monitor.daemon.pages import listen, serve
from monitor.farm import Web
from monitor.web.changes import Changes

WHOLE: Final = b"GET /health HTTP/1.1\r\nHost: x\r\n\r\n"
POST: Final = b"POST /form HTTP/1.1\r\nHost: x\r\n"
BIG: Final = 64 << 20
PAGE: Final = 60_000  # so little that uvicorn holds all of it, and waits for nobody
Door = tuple[str, int]


def _app(ended: asyncio.Event) -> FastAPI:
    app = FastAPI()

    @app.get("/health")
    async def health() -> Response:
        return PlainTextResponse("well")

    @app.post("/form")
    async def form(request: Request) -> Response:
        try:
            await request.body()
        finally:
            ended.set()
        return PlainTextResponse("read")

    @app.get("/live")
    async def live() -> Response:
        async def events() -> AsyncIterator[str]:
            while True:
                yield "data: 1\n\n"
                await asyncio.sleep(0.05)

        return StreamingResponse(events())

    @app.get("/big")
    async def big() -> Response:
        async def much() -> AsyncIterator[bytes]:
            try:
                for _ in range(BIG >> 16):
                    yield b"x" * 65_536
            finally:
                ended.set()

        return StreamingResponse(much())

    @app.get("/page")
    async def page() -> Response:
        return PlainTextResponse("x" * PAGE)

    return app


@asynccontextmanager
async def _served(ended: asyncio.Event, web: Web | None = None) -> AsyncIterator[Door]:
    door = listen("127.0.0.1", 0)
    door.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, 8192)  # what the system takes is no test
    part = asyncio.create_task(serve(_app(ended), door, Changes(), web or Web()))
    yield door.getsockname()[:2]
    part.cancel()
    with contextlib.suppress(asyncio.CancelledError):
        await part
    door.close()


def _play(act: Callable[[Door, asyncio.Event], Awaitable[None]]) -> None:
    async def play() -> None:
        ended = asyncio.Event()
        async with _served(ended) as door:
            await asyncio.wait_for(act(door, ended), 60)

    asyncio.run(play())


async def _closed(reader: asyncio.StreamReader) -> bytes:
    """Return all that comes until the other end closes."""
    with contextlib.suppress(ConnectionResetError):
        return await reader.read()
    return b""


async def _asked(door: Door) -> bytes:
    reader, writer = await asyncio.open_connection(*door)
    writer.write(WHOLE.replace(b"\r\n\r\n", b"\r\nConnection: close\r\n\r\n"))
    told = await _closed(reader)
    writer.close()
    return told


@pytest.mark.parametrize(
    "part",
    [b"", b"GET / HT", WHOLE[:-2], POST + b"Content-Length: 9\r\n\r\nab",
     POST + b"Transfer-Encoding: chunked\r\n\r\n4\r\nab"],
)  # fmt: skip
def test_a_request_in_part_is_not_waited_for(part: bytes, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever is missing, the connection ends, and whoever read its body with it."""
    monkeypatch.setattr(BoundedProtocol, "whole_s", 0.3)

    async def act(door: Door, ended: asyncio.Event) -> None:
        reader, writer = await asyncio.open_connection(*door)
        writer.write(part)
        await _closed(reader)
        writer.close()
        if part.startswith(b"POST"):
            await ended.wait()
        monkeypatch.setattr(BoundedProtocol, "whole_s", WHOLE_S)
        assert b"well" in await _asked(door)

    _play(act)


def test_a_letter_now_and_then_buys_no_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """The time runs from the first, however slowly a head comes in."""
    monkeypatch.setattr(BoundedProtocol, "whole_s", 0.5)

    async def act(door: Door, _: asyncio.Event) -> None:
        reader, writer = await asyncio.open_connection(*door)
        end = asyncio.create_task(_closed(reader))
        writer.write(b"GET / HTTP/1.1\r\nHost: x\r\nX-Slow: ")
        while not end.done():
            with contextlib.suppress(ConnectionError):
                writer.write(b"a")
                await writer.drain()
            await asyncio.wait([end], timeout=0.05)
        writer.close()

    _play(act)


def test_an_open_live_page_is_left_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """Who asked at once and takes what is sent stays, long past every deadline."""
    monkeypatch.setattr(BoundedProtocol, "whole_s", 0.5)
    monkeypatch.setattr(BoundedProtocol, "taken_s", 0.5)

    async def act(door: Door, _: asyncio.Event) -> None:
        reader, writer = await asyncio.open_connection(*door)
        writer.write(WHOLE.replace(b"/health", b"/live"))
        for _turn in range(20):  # a second's worth
            await reader.readuntil(b"data: 1")
        writer.close()

    _play(act)


def test_who_does_not_take_an_answer_is_let_go(monkeypatch: pytest.MonkeyPatch) -> None:
    """An answer that nobody reads is not kept in memory for ever."""
    monkeypatch.setattr(BoundedProtocol, "taken_s", 0.3)

    async def act(door: Door, ended: asyncio.Event) -> None:
        with socket.socket() as deaf:
            deaf.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
            deaf.connect(door)
            deaf.sendall(WHOLE.replace(b"/health", b"/big"))
            await ended.wait()

    _play(act)


@pytest.mark.parametrize("path", [b"/page", b"/big"])
@pytest.mark.parametrize("end", [b"HTTP/1.1", b"HTTP/1.0", b"HTTP/1.1\r\nConnection: close"])
def test_a_byte_now_and_then_buys_no_time(
    path: bytes, end: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Who takes an answer byte by byte is let go, however the answer is made and would end."""
    monkeypatch.setattr(BoundedProtocol, "whole_s", 0.3)
    monkeypatch.setattr(BoundedProtocol, "taken_s", 0.3)

    async def act(door: Door, _: asyncio.Event) -> None:
        with socket.socket() as slow:
            slow.settimeout(0)
            slow.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
            loop = asyncio.get_running_loop()
            await loop.sock_connect(slow, door)
            await loop.sock_sendall(slow, b"GET %b %b\r\nHost: x\r\n\r\n" % (path, end))
            taken = 0
            for _turn in range(40):  # more than a second
                taken += len(await loop.sock_recv(slow, 1))
                await asyncio.sleep(0.03)
            with contextlib.suppress(ConnectionResetError):
                while some := len(await loop.sock_recv(slow, 65_536)):
                    taken += some
        assert 40 <= taken < PAGE

    _play(act)


def test_idle_connections_make_room(monkeypatch: pytest.MonkeyPatch) -> None:
    """However many are opened and left, the newest visitor is answered."""
    monkeypatch.setattr(BoundedProtocol, "at_most", 20)

    async def act(door: Door, _: asyncio.Event) -> None:
        held = [await asyncio.open_connection(*door) for _ in range(60)]
        assert b"well" in await _asked(door)
        ended = [asyncio.create_task(_closed(reader)) for reader, _ in held]
        while sum(each.done() for each in ended) < 40:
            await asyncio.wait([e for e in ended if not e.done()], return_when="FIRST_COMPLETED")
        for each in ended:
            each.cancel()
        await asyncio.gather(*ended, return_exceptions=True)
        for _reader, writer in held:
            writer.close()

    _play(act)


def test_handshakes_that_are_never_finished_make_room(tmp_path: Path) -> None:
    """Of a hundred that open TLS and say nothing few are kept, and who shakes hands is answered."""
    make(tmp_path, ["127.0.0.1"], datetime.now(UTC))
    web = Web(certificate=tmp_path / CERTIFICATE, key=tmp_path / KEY)

    async def play() -> None:
        async with _served(asyncio.Event(), web) as door:
            held = [await asyncio.open_connection(*door) for _ in range(100)]
            trusting = ssl.create_default_context(cafile=tmp_path / AUTHORITY)
            reader, writer = await asyncio.open_connection(*door, ssl=trusting)
            writer.write(WHOLE)
            assert b"200" in await reader.readline()
            writer.close()
            ended = [asyncio.create_task(_closed(reader)) for reader, _ in held]
            while sum(each.done() for each in ended) < 100 - HALF_OF_ONE:
                waiting = [each for each in ended if not each.done()]
                await asyncio.wait(waiting, return_when="FIRST_COMPLETED")
            for each in ended:
                each.cancel()
            await asyncio.gather(*ended, return_exceptions=True)
            for _reader, other in held:
                other.close()

    asyncio.run(asyncio.wait_for(play(), 60))
