"""Tables as earlier versions wrote them: read all the same, and told in a warning."""

from collections.abc import Iterator, Mapping
from typing import Any, Final

from monitor.farm.problem import Problem

_OLD: Final = "web"
_NEW: Final = "pages"


def _is_old(raw: Mapping[str, Any]) -> bool:
    return isinstance(raw.get(_OLD), dict) and _NEW not in raw


def renewed(raw: dict[str, Any]) -> dict[str, Any]:
    """Return a file as it would be written today: ``[web]`` is ``[pages]``."""
    if not _is_old(raw):
        return raw
    kept = {key: value for key, value in raw.items() if key != _OLD}
    pages = dict(raw[_OLD])
    host, port = pages.pop("host", "127.0.0.1"), pages.pop("port", 8484)
    bracketed = f"[{host}]" if ":" in str(host) else host
    return {**kept, _NEW: {"listen": f"{bracketed}:{port}", **pages}}


def outdated(file: str, raw: Mapping[str, Any]) -> Iterator[Problem]:
    """Yield a warning for a table of an earlier version."""
    if _is_old(raw):
        yield Problem(
            "warning", file, _OLD, "", "this table has another name now",
            f'write [{_NEW}], and host and port as one: listen = "127.0.0.1:8484"',
        )  # fmt: skip
