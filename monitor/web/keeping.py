"""The worker that keeps pages on a phone: served from the root, so that it may keep them all."""

import hashlib
import json
from functools import cache
from typing import Final

from fastapi import APIRouter, Response

from monitor.languages import in_language
from monitor.phrase import LANGUAGES, Phrase
from monitor.resources import dashboards_dir

router = APIRouter(include_in_schema=False)


@cache
def version() -> str:
    """Return what stands for all that pages are made of: another one empties what was kept."""
    found = hashlib.sha256()
    for folder in ("static", "templates", "languages"):
        for each in sorted((dashboards_dir() / folder).iterdir()):
            found.update(each.name.encode() + each.read_bytes())
    return found.hexdigest()[:16]


_TEXTS: Final = {
    "title": Phrase("No signal"),
    "text": Phrase(
        "The monitor cannot be reached, and this page was not opened on this phone lately."
    ),
    "now": Phrase("Now"), "batches": Phrase("Batches"),
}  # fmt: skip


def _texts() -> str:
    """Return what the worker itself says, by language, as JSON."""
    return json.dumps({
        language: {key: in_language(each, language) for key, each in _TEXTS.items()}
        for language in LANGUAGES
    })  # fmt: skip


@router.get("/sw.js")
def worker() -> Response:
    """Give the worker, with this version's mark in it."""
    text = (dashboards_dir() / "static" / "sw.js").read_text(encoding="utf-8")
    return Response(
        f'const VERSION = "{version()}";\nconst TEXTS = {_texts()};\n{text}',
        media_type="text/javascript",
        headers={"Cache-Control": "no-cache"},
    )  # fmt: skip
