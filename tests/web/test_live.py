"""The stream: a change is told, a stop ends it, a lost reader leaves no slot."""

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable
from typing import Any

from fastapi import FastAPI
from starlette.types import Message, Scope

from monitor.web.app import create_app
from monitor.web.changes import EACH_AT_MOST, STREAMS_AT_MOST, Changes
from tests.web.desk import SmallDesk
from tests.web.visiting import Visitor


class Listener:
    """One open stream, spoken to as a server does."""

    def __init__(self, app: FastAPI) -> None:
        self._app = app
        self._gone = asyncio.Event()
        self.heard: asyncio.Queue[bytes] = asyncio.Queue()
        self.status = 0

    async def _receive(self) -> Message:
        await self._gone.wait()
        return {"type": "http.disconnect"}

    async def _send(self, message: Message) -> None:
        self.status = message.get("status", self.status)
        if message.get("body"):
            self.heard.put_nowait(message["body"])

    async def run(self) -> None:
        """Listen until the stream ends."""
        scope: Scope = {
            "type": "http", "asgi": {"version": "3.0", "spec_version": "2.3"}, "method": "GET",
            "path": "/live", "raw_path": b"/live", "query_string": b"", "root_path": "",
            "scheme": "http", "http_version": "1.1", "server": ("127.0.0.1", 8484),
            "client": ("127.0.0.1", 5), "headers": [(b"host", b"127.0.0.1:8484")],
        }  # fmt: skip
        await self._app(scope, self._receive, self._send)

    def hang_up(self) -> None:
        """Go without a word."""
        self._gone.set()

    async def next(self) -> str:
        """Return the next event as it came."""
        return (await asyncio.wait_for(self.heard.get(), 5)).decode()


def _with_listener(
    desk: SmallDesk, act: Callable[[Listener, "asyncio.Task[None]"], Awaitable[Any]]
) -> None:
    async def play() -> None:
        desk.changes = Changes()
        listener = Listener(create_app(desk))
        task = asyncio.create_task(listener.run())
        assert "event: alive" in await listener.next()
        await act(listener, task)

    asyncio.run(play())


def test_a_change_is_told(desk: SmallDesk) -> None:
    """A change reaches an open page as an event, and takes one slot."""

    async def act(listener: Listener, task: "asyncio.Task[None]") -> None:
        assert desk.changes.open_streams == 1
        desk.changes.tell()
        assert await listener.next() == "event: changed\ndata: 1\n\n"
        desk.changes.close()
        await asyncio.wait_for(task, 1)

    _with_listener(desk, act)


def test_a_stop_ends_every_stream_within_a_second(desk: SmallDesk) -> None:
    """Closing ends a waiting stream at once, and no new one begins."""

    async def act(_: Listener, task: "asyncio.Task[None]") -> None:
        desk.changes.close()
        await asyncio.wait_for(task, 1)
        assert desk.changes.open_streams == 0

    _with_listener(desk, act)
    assert Visitor(create_app(desk)).get("/live").status_code == 503


def test_a_stop_ends_a_stream_that_has_just_told(desk: SmallDesk) -> None:
    """Closing ends a stream that holds back the next change, too."""

    async def act(listener: Listener, task: "asyncio.Task[None]") -> None:
        desk.changes.tell()
        await listener.next()
        await asyncio.sleep(0)
        desk.changes.close()
        await asyncio.wait_for(task, 1)

    _with_listener(desk, act)


def test_a_reader_that_is_cut_off_leaves_no_slot(desk: SmallDesk) -> None:
    """A page that is gone without a word gives its slot back."""

    async def act(listener: Listener, task: "asyncio.Task[None]") -> None:
        listener.hang_up()
        await asyncio.wait_for(task, 1)
        assert desk.changes.open_streams == 0

    _with_listener(desk, act)


def test_too_many_pages_are_told_so(desk: SmallDesk) -> None:
    """With every slot taken the stream answers 503 and when to come again."""
    desk.changes = Changes()
    desk.changes.open_streams = STREAMS_AT_MOST
    answer = Visitor(create_app(desk)).get("/live")
    assert answer.status_code == 503
    assert answer.headers["retry-after"] == "10"


def test_changes_between_two_events_are_one() -> None:
    """Ten changes while an event is on its way wake the page once more, not ten times."""

    async def play() -> list[str]:
        changes = Changes(alive_every_s=5.0, apart_s=0.0)
        stream: AsyncIterator[str] = changes.stream()
        await anext(stream)
        for _ in range(10):
            changes.tell()
        told = [await anext(stream)]
        changes.close()
        return told + [each async for each in stream]

    assert asyncio.run(play()) == ["event: changed\ndata: 10\n\n"]


def test_figures_wake_a_page_less_often_than_an_alarm() -> None:
    """The first is told at once; then figures wait, and what is more than a figure does not."""

    async def play() -> list[str]:
        changes = Changes(alive_every_s=60.0, apart_s=0.0, figures_apart_s=30.0)
        stream: AsyncIterator[str] = changes.stream()
        await anext(stream)
        changes.tell_figures()
        told = [await anext(stream)]
        changes.tell_figures()
        waiting = asyncio.ensure_future(anext(stream))
        assert not (await asyncio.wait([waiting], timeout=0.1))[0]
        changes.tell()
        told.append(await waiting)
        return told

    assert asyncio.run(play()) == ["event: changed\ndata: 1\n\n", "event: changed\ndata: 3\n\n"]


def test_figures_are_told_in_the_end() -> None:
    """A page that waits for nothing else shows them after the time between two."""

    async def play() -> list[str]:
        changes = Changes(alive_every_s=60.0, apart_s=0.0, figures_apart_s=0.05)
        stream: AsyncIterator[str] = changes.stream()
        told = [await anext(stream)]
        for _ in range(2):
            changes.tell_figures()
            told.append(await anext(stream))
        return told

    assert [each.split("\n")[0] for each in asyncio.run(play())] == [
        "retry: 3000", "event: changed", "event: changed"
    ]  # fmt: skip


def test_silence_is_broken_by_a_sign_of_life() -> None:
    """With nothing to tell, the page hears that the monitor is alive."""

    async def play() -> str:
        stream = Changes(alive_every_s=0.01).stream()
        await anext(stream)
        return await anext(stream)

    assert asyncio.run(play()) == "event: alive\ndata: 0\n\n"


def test_one_person_does_not_take_every_stream() -> None:
    """Somebody's sixteen open pages are enough; whoever else asks has room."""
    changes = Changes()
    changes.streams_of["wren"] = EACH_AT_MOST
    assert changes.full("wren")
    assert not changes.full("robin")
    assert not changes.full()
