"""The live stream of one open page: a slot that is given back however it ends."""

from fastapi import APIRouter, Response
from fastapi.responses import PlainTextResponse, StreamingResponse
from starlette.types import Receive, Scope, Send

from monitor.web.changes import Changes
from monitor.web.rendering import Here


class LiveResponse(StreamingResponse):
    """Streams events; its slot is free again as soon as the reader is gone."""

    media_type = "text/event-stream"

    def __init__(self, changes: Changes, person: str = "") -> None:
        self._person = person
        self._changes = changes
        self._events = changes.stream()
        super().__init__(self._events, headers={"X-Accel-Buffering": "no"})

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Hold a slot while the stream lasts."""
        self._changes.open_streams += 1
        self._changes.streams_of[self._person] += 1
        try:
            await super().__call__(scope, receive, send)
        finally:
            self._changes.open_streams -= 1
            self._changes.streams_of[self._person] -= 1
            await self._events.aclose()


router = APIRouter()


@router.get("/live", include_in_schema=False)
async def live(pages: Here) -> Response:
    """Stream what changes until the page is closed."""
    changes = pages.desk.changes
    if changes.ended() or changes.full(pages.visitor.person):
        return PlainTextResponse(
            "too many pages are open: close some\n", 503, headers={"Retry-After": "10"}
        )
    return LiveResponse(changes, pages.visitor.person)
