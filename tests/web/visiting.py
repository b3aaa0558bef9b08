"""A visitor of the pages: real requests through the whole application, no socket between."""

import asyncio
from dataclasses import dataclass, field
from typing import Any

import httpx
from fastapi import FastAPI

HERE = "http://127.0.0.1:8484"


@dataclass
class Visitor:
    """Sends one request after the other, as a browser on the same computer would."""

    app: FastAPI
    headers: dict[str, str] = field(default_factory=dict)

    def ask(self, method: str, path: str, **sent: Any) -> httpx.Response:  # noqa: ANN401  # what httpx takes
        """Send a request and return the answer, redirections not followed."""

        async def send() -> httpx.Response:
            door = httpx.ASGITransport(app=self.app)
            async with httpx.AsyncClient(transport=door, base_url=HERE) as client:
                return await client.request(method, path, **sent)

        sent["headers"] = self.headers | sent.get("headers", {})
        return asyncio.run(send())

    def get(self, path: str, **sent: Any) -> httpx.Response:  # noqa: ANN401  # what httpx takes
        """Look at a page."""
        return self.ask("GET", path, **sent)

    def post(self, path: str, **sent: Any) -> httpx.Response:  # noqa: ANN401  # what httpx takes
        """Send a form or JSON."""
        return self.ask("POST", path, **sent)

    def key(self) -> str:
        """Return the key in the form of the first page."""
        return self.key_of("/")

    def key_of(self, path: str) -> str:
        """Return the key in the first form of a page."""
        return self.get(path).text.partition('name="form_key" value="')[2].partition('"')[0]
