"""Every page there is, by the table of routes, with an example of what its path names."""

import re
import urllib.error
import urllib.request

from monitor.web.roles import ROLES
from tests.web.paths import filled

READ = [path for method, path in ROLES if method == "GET"]
_STREAM = "/live"
FORMS = [f"/record/{verb}" for verb in (
    "look?batch=1", "hold?batch=2", "move", "harvest?batch=4", "out?batch=2", "add", "undo?batch=2",
)]  # fmt: skip
MORE = [*FORMS, "/places/tunnel-2", "/places/walk-in-cooler?span=10y", "/nowhere"]
"""Pages that one example of each route leaves out."""


def every_page(address: str) -> list[str]:
    """Return the path of every route that answers with a page."""
    paths = dict.fromkeys(filled(path) for path in READ if path != _STREAM)
    return [path for path in paths if _is_page(f"{address}{path}")]


def picture_of(path: str) -> str:
    """Return what the picture of a page is called."""
    return re.sub(r"[^a-z0-9]+", "-", path.lower()).strip("-") or "now"


def _is_page(address: str) -> bool:
    try:
        with urllib.request.urlopen(address, timeout=10) as answer:  # noqa: S310 - our own
            return bool(answer.headers.get_content_type() == "text/html")
    except urllib.error.HTTPError as refused:
        return refused.headers.get_content_type() == "text/html"
