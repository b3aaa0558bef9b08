"""Every page there is, by the table of routes, with an example of what its path names."""

import urllib.error
import urllib.request

from monitor.web.roles import ROLES

READ = [path for method, path in ROLES if method == "GET"]
_STREAM = "/live"

# In the furnished farm.
_EXAMPLES = {
    "{place_id}": "walk-in-cooler", "{batch_id}": "2", "{alarm_id}": "1",
    "{sensor_id}": "cooler-door-side", "{crop_id}": "ranunculus", "{person_id}": "wren",
    "{stage_id}": "pre_sprout", "{quantity}": "temperature", "{token}": "x" * 40,
    "{path:path}": "cormwatch.css",
}  # fmt: skip


def example(path: str) -> str:
    """Return a route's path with something that is there in each of its gaps."""
    for name, value in _EXAMPLES.items():
        path = path.replace(name, value)
    return path


def every_page(address: str) -> list[str]:
    """Return the path of every route that answers with a page."""
    paths = dict.fromkeys(example(path) for path in READ if path != _STREAM)
    return [path for path in paths if _is_page(f"{address}{path}")]


def _is_page(address: str) -> bool:
    try:
        with urllib.request.urlopen(address, timeout=10) as answer:  # noqa: S310 - our own
            return bool(answer.headers.get_content_type() == "text/html")
    except urllib.error.HTTPError as refused:
        return refused.headers.get_content_type() == "text/html"
