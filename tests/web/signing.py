"""A browser that keeps its cookies, here or away from the monitor's computer."""

import asyncio
from dataclasses import dataclass, field
from typing import Any

import httpx
from fastapi import FastAPI

HERE = "127.0.0.1"
AWAY = "192.168.7.30"
SITE = "http://127.0.0.1:8484"
PASSWORD = "wet glove 3am"  # noqa: S105 - a made-up one


@dataclass
class Browser:
    """Sends requests from an address, with the cookies it was given."""

    app: FastAPI
    address: str = HERE
    site: str = SITE
    cookies: httpx.Cookies = field(default_factory=httpx.Cookies)

    def ask(self, method: str, path: str, **sent: Any) -> httpx.Response:  # noqa: ANN401  # what httpx takes
        """Send a request and return the answer, redirections not followed."""

        async def send() -> httpx.Response:
            door = httpx.ASGITransport(app=self.app, client=(self.address, 50_000))
            async with httpx.AsyncClient(
                transport=door, base_url=self.site, cookies=self.cookies
            ) as client:
                answer = await client.request(method, path, **sent)
                self.cookies = client.cookies
                return answer

        return asyncio.run(send())

    def get(self, path: str, **sent: Any) -> httpx.Response:  # noqa: ANN401  # what httpx takes
        """Look at a page."""
        return self.ask("GET", path, **sent)

    def own_page(self) -> dict[str, str]:
        """Return what a browser says of a post that a page of this site sends."""
        return {"origin": self.site}

    def post(self, path: str, page: str = "/help", /, **fields: str) -> httpx.Response:
        """Send a form as the page that it stands on would."""
        given = {"form_key": self.key(page), **fields}
        return self.ask("POST", path, data=given, headers=self.own_page())

    def key(self, page: str) -> str:
        """Return the key in the forms of a page."""
        return self.get(page).text.partition('name="form_key" value="')[2].partition('"')[0]

    def sign_in(self, name: str, password: str, **fields: str) -> httpx.Response:
        """Fill in the sign-in page."""
        return self.post("/sign-in", "/sign-in", name=name, password=password, **fields)
