"""A real server of the pages and a real browser to look at them."""

import asyncio
import contextlib
import os
import shutil
import socket
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

import pytest
import uvicorn
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from monitor.web.app import create_app
from tests.web.desk import SmallDesk

ARTEFACTS = Path(__file__).resolve().parents[2] / ".artefacts"
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run"]
SIZES = {"phone": (390, 844), "wide": (1280, 800)}


def chromium() -> str:
    """Return where the browser is; without one the test fails in CI and is skipped elsewhere."""
    found = shutil.which("chromium")
    if found is None and os.environ.get("CI"):
        pytest.fail("chromium is missing: install it (apt-get install chromium)")
    if found is None:
        pytest.skip("chromium is not installed")
    return found


class _Server(uvicorn.Server):
    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Take no signal: the test stops this server."""
        yield


@dataclass
class Serving:
    """The pages of a desk, served on a port of the loopback, a free one by default."""

    desk: SmallDesk
    address: str = ""
    port: int = 0

    def __post_init__(self) -> None:
        self._door = socket.socket()
        self._door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        self._door.bind(("127.0.0.1", self.port))
        self.address = f"http://127.0.0.1:{self._door.getsockname()[1]}"
        config = uvicorn.Config(create_app(self.desk), log_level="warning", access_log=False)
        self._server = _Server(config)
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._run)

    def _run(self) -> None:
        with asyncio.Runner(loop_factory=lambda: self._loop) as runner:
            runner.run(self._server.serve(sockets=[self._door]))

    def start(self) -> "Serving":
        """Serve; connections wait in the listening socket until then."""
        self._door.listen()
        self._thread.start()
        return self

    def tell(self) -> None:
        """Say that something has changed, as the daemon does."""
        self._loop.call_soon_threadsafe(self.desk.changes.tell)

    def stop(self) -> None:
        """End the streams and the server; a second time does nothing."""
        if not self._thread.is_alive():
            return
        self._loop.call_soon_threadsafe(self.desk.changes.close)
        self._server.should_exit = True
        self._thread.join(10)
        self._door.close()


@dataclass
class Watched:
    """A page whose complaints and requests are kept."""

    page: Page
    complaints: list[str] = field(default_factory=list)
    hosts: set[str] = field(default_factory=set)

    def __post_init__(self) -> None:
        self.page.on(
            "console",
            lambda said: self.complaints.append(said.text) if said.type == "error" else None,
        )
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.on("request", lambda sent: self.hosts.add(urlsplit(sent.url).hostname or ""))


@contextlib.contextmanager
def browser() -> Iterator[Browser]:
    """Give a real Chromium without a window."""
    path = chromium()
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(executable_path=path, args=FLAGS)
        yield opened
        opened.close()


def phone(browser: Browser, *, scripts: bool = True) -> BrowserContext:
    """Return a phone: narrow, touched rather than clicked."""
    width, height = SIZES["phone"]
    return browser.new_context(
        viewport={"width": width, "height": height}, has_touch=True, java_script_enabled=scripts,
        timezone_id="Asia/Tokyo",
    )  # fmt: skip
