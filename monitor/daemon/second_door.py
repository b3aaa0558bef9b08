"""Where a second watcher listens: one path for heartbeats, one to see that it lives."""

import json
import secrets
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Final

from starlette.applications import Starlette
from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.routing import Route

LARGEST: Final = 65_536
_SCHEME: Final = "Bearer "


@dataclass
class Door:
    """Takes heartbeats that carry the secret and the farm's name; the others are counted."""

    farm: str
    secret: str
    take: Callable[[Mapping[str, Any]], None]
    standing: Callable[[], Mapping[str, Any]]
    strangers: int = 0
    others: int = 0
    unreadable: int = 0

    def app(self) -> Starlette:
        """Return the application."""
        return Starlette(
            routes=[
                Route("/beat", self._beat, methods=["POST"]),
                Route("/health/live", self._live, methods=["GET"]),
            ]
        )

    async def _beat(self, request: Request) -> Response:
        given = request.headers.get("authorization", "")
        wanted = f"{_SCHEME}{self.secret}"
        if not secrets.compare_digest(given.encode(), wanted.encode()):
            self.strangers += 1
            return PlainTextResponse("the secret does not fit\n", 401)
        body = await _body(request)
        if body is None:
            self.unreadable += 1
            return PlainTextResponse("this is no heartbeat\n", 400)
        if body.get("farm") != self.farm:
            self.others += 1
            return PlainTextResponse(f"this watcher waits for {self.farm}, by its name\n", 409)
        self.take(body)
        return Response(status_code=204)

    async def _live(self, _request: Request) -> Response:
        counts = {
            "wrong_secret": self.strangers, "other_farm": self.others,
            "unreadable": self.unreadable,
        }  # fmt: skip
        return JSONResponse({"status": "alive", **self.standing(), "refused": counts})


async def _body(request: Request) -> Mapping[str, Any] | None:
    """Return a JSON object of a bearable size, or None."""
    whole = b""
    try:
        async for piece in request.stream():
            whole += piece
            if len(whole) > LARGEST:
                return None
        found = json.loads(whole)
    except (ClientDisconnect, ValueError, RecursionError):
        return None
    return found if isinstance(found, dict) else None
