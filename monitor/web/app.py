"""The pages, the programming interface and the live stream as one application."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Final

import anyio.to_thread
from fastapi import FastAPI
from fastapi.staticfiles import StaticFiles
from starlette.middleware.gzip import GZipMiddleware

from monitor.resources import dashboards_dir
from monitor.web import (
    api,
    duty_card,
    health,
    keeping,
    links,
    live,
    loading,
    metrics,
    pages,
    sheets,
    signing_in,
)
from monitor.web.admission import Admission, House
from monitor.web.desk import Desk
from monitor.web.failing import answer_failures
from monitor.web.guard import FormKey, Guard
from monitor.web.recording import routes as recording
from monitor.web.rendering import Pages
from monitor.web.settings import adopting, crops, front, ice, instrument, people, places, times

THREADS: Final = 4
"""Pages made at one time; each thread has a reader of its own."""

PARTS: Final = (
    pages.router, sheets.router, duty_card.router, loading.router, signing_in.router, links.router,
    api.router, live.router, health.router, metrics.router,
    recording.router, recording.machine,
    adopting.router, ice.router, instrument.router, front.router, places.router, people.router,
    times.router, crops.router,
    keeping.router,
)  # fmt: skip
"""Every route; what each needs is said in ``monitor.web.roles``."""


@asynccontextmanager
async def _few_threads(_: FastAPI) -> AsyncIterator[None]:
    anyio.to_thread.current_default_thread_limiter().total_tokens = THREADS
    yield


def create_app(desk: Desk) -> FastAPI:
    """Return the application that shows one running monitor."""
    app = FastAPI(
        title="Cormwatch",
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
        redirect_slashes=False,  # such an answer would be built from the Host header
        lifespan=_few_threads,
    )
    app.state.pages = Pages(desk, FormKey())
    app.state.gate = links.Gate()
    app.state.house = House(desk)
    app.add_middleware(GZipMiddleware, minimum_size=1000)
    app.add_middleware(Admission, house=app.state.house, pages=app.state.pages)
    app.add_middleware(Guard, web=desk.farm().web)
    for part in PARTS:
        app.include_router(part)
    answer_failures(app)
    for folder in ("static", "vendor"):
        app.mount(f"/{folder}", StaticFiles(directory=dashboards_dir() / folder), folder)
    return app
