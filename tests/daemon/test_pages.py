"""The pages are served inside the daemon's loop, and may be started again."""

import asyncio
import contextlib
import socket

import httpx
from fastapi import FastAPI

from monitor.daemon.pages import listen, serve
from monitor.farm import Web
from monitor.web.changes import Changes


def test_the_pages_can_be_started_again_at_the_same_door() -> None:
    """A part that died is started anew: same port, and streams are let in again."""

    async def twice() -> list[int]:
        app, changes, found = FastAPI(), Changes(), []
        door = listen("127.0.0.1", 0)
        url = f"http://127.0.0.1:{door.getsockname()[1]}/openapi.json"
        for _ in range(2):
            part = asyncio.create_task(serve(app, door, changes, Web()))
            async with httpx.AsyncClient() as client:
                found.append((await client.get(url, timeout=10)).status_code)
            assert not changes.ended()
            part.cancel()
            with contextlib.suppress(asyncio.CancelledError):
                await part
            assert changes.ended()
        door.close()
        return found

    assert asyncio.run(twice()) == [200, 200]


def test_an_answer_does_not_wait_for_more() -> None:
    """The door is named as TCP, so that the loop sets its connections to send at once."""
    with listen("127.0.0.1", 0) as door:
        assert door.proto == socket.IPPROTO_TCP
