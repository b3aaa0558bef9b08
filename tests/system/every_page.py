"""Every page there is, by the table of routes, with an example of what its path names."""

import urllib.error
import urllib.request

from monitor.web.roles import ROLES
from tests.web.paths import filled

READ = [path for method, path in ROLES if method == "GET"]
_STREAM = "/live"


def every_page(address: str) -> list[str]:
    """Return the path of every route that answers with a page."""
    paths = dict.fromkeys(filled(path) for path in READ if path != _STREAM)
    return [path for path in paths if _is_page(f"{address}{path}")]


def _is_page(address: str) -> bool:
    try:
        with urllib.request.urlopen(address, timeout=10) as answer:  # noqa: S310 - our own
            return bool(answer.headers.get_content_type() == "text/html")
    except urllib.error.HTTPError as refused:
        return refused.headers.get_content_type() == "text/html"
