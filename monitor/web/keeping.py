"""The worker that keeps pages on a phone: served from the root, so that it may keep them all."""

import hashlib
from functools import cache

from fastapi import APIRouter, Response

from monitor.resources import dashboards_dir

router = APIRouter(include_in_schema=False)


@cache
def version() -> str:
    """Return what stands for all that pages are made of: another one empties what was kept."""
    found = hashlib.sha256()
    for folder in ("static", "templates"):
        for each in sorted((dashboards_dir() / folder).iterdir()):
            found.update(each.name.encode() + each.read_bytes())
    return found.hexdigest()[:16]


@router.get("/sw.js")
def worker() -> Response:
    """Give the worker, with this version's mark in it."""
    text = (dashboards_dir() / "static" / "sw.js").read_text(encoding="utf-8")
    return Response(
        f'const VERSION = "{version()}";\n{text}', media_type="text/javascript",
        headers={"Cache-Control": "no-cache"},
    )  # fmt: skip
