"""The pages, the programming interface and the live stream as one application."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import Final

import anyio.to_thread
from fastapi import FastAPI
from fastapi.staticfiles import StaticFiles
from starlette.middleware.gzip import GZipMiddleware

from monitor.resources import dashboards_dir
from monitor.web import api, duty_card, health, links, live, loading, metrics, pages
from monitor.web.desk import Desk
from monitor.web.failing import answer_failures
from monitor.web.guard import FormKey, Guard
from monitor.web.rendering import Pages

THREADS: Final = 4
"""Pages made at one time; each thread has a reader of its own."""


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
        lifespan=_few_threads,
    )
    app.state.pages = Pages(desk, FormKey())
    app.state.gate = links.Gate()
    app.add_middleware(GZipMiddleware, minimum_size=1000)
    app.add_middleware(Guard, web=desk.farm().web)
    for part in (pages, duty_card, loading, links, api, live, health, metrics):
        app.include_router(part.router)
    answer_failures(app, app.state.pages)
    for folder in ("static", "vendor"):
        app.mount(f"/{folder}", StaticFiles(directory=dashboards_dir() / folder), folder)
    return app
