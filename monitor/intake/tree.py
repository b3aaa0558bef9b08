"""Strict JSON: sizes bounded before parsing, duplicate keys refused, NaN marked.

Python's own reader takes ``NaN``, makes ``1e400`` infinite and keeps the last of two
equal keys. Here ``NaN`` and ``Infinity`` become a marker, so that the other values of
a message survive; infinities of size are found where a value is used.
"""

import json
import re
from collections.abc import Callable
from typing import Any, Final

from monitor.errors import PayloadError
from monitor.intake.number import text_of
from monitor.intake.reasons import Reason, shown

LARGEST_BYTES: Final = 65_536
DEEPEST: Final = 32

# A text that is never closed runs to the end: possessive, so that the time stays linear.
_TOKENS = re.compile(rb'"(?:[^"\\]|\\.)*+"?|[\[\]{}]', re.DOTALL)


class NotFinite:
    """Stands where the text said ``NaN`` or ``Infinity``."""

    def __repr__(self) -> str:
        return "NaN or Infinity"


NOT_FINITE: Final = NotFinite()
ABSENT: Final = object()


def _mark(_name: str) -> NotFinite:
    return NOT_FINITE


def _unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    tree = dict(pairs)
    if len(tree) != len(pairs):
        raise PayloadError(Reason.DUPLICATE_KEY, "a key stands twice in one object")
    return tree


Scan = Callable[[str, int], tuple[Any, int]]


def scanner(parse_float: Callable[[str], float] = float) -> Scan:
    """Return Python's JSON scanner, made strict."""
    decoder = json.JSONDecoder(
        object_pairs_hook=_unique, parse_constant=_mark, parse_float=parse_float
    )
    scan: Scan = decoder.scan_once  # type: ignore[attr-defined]  # json.decoder names it so
    return scan


_scan = scanner()


def check_size(payload: bytes) -> None:
    """Refuse a message over the size cap, before anything is made of it."""
    if len(payload) > LARGEST_BYTES:
        raise PayloadError(Reason.TOO_LARGE, f"{len(payload)} bytes, at most {LARGEST_BYTES}")


def _check_depth(payload: bytes) -> None:
    if payload.count(b"[") + payload.count(b"{") <= DEEPEST:
        return
    depth = 0
    for token in _TOKENS.finditer(payload):
        mark = token[0]
        if mark in b"[{":
            depth += 1
            if depth > DEEPEST:
                raise PayloadError(Reason.TOO_DEEP, f"nested deeper than {DEEPEST}")
        elif mark in b"]}":
            depth -= 1


def parse_json(payload: bytes, scan: Scan = _scan) -> Any:  # noqa: ANN401 - JSON is of any kind
    """Read a message as JSON, strictly.

    Raises
    ------
    PayloadError
        If it is too large, too deep, no UTF-8, no JSON, or holds a key twice.
    """
    check_size(payload)
    _check_depth(payload)
    text = text_of(payload)
    try:
        tree, end = scan(text, 0)
    except PayloadError:
        raise
    except StopIteration as wrong:
        raise PayloadError(Reason.NOT_JSON, f"no JSON at character {wrong.value}") from wrong
    except ValueError as wrong:
        raise PayloadError(Reason.NOT_JSON, shown(str(wrong))) from wrong
    if end != len(text) and text[end:].strip(" \t\r\n"):
        raise PayloadError(Reason.NOT_JSON, f"more text after character {end}")
    return tree


def steps_of(path: str) -> tuple[str, ...]:
    """Return a dotted path's steps; a step of digits may be an index of a list."""
    return tuple(path.split("."))


def dig(tree: Any, steps: tuple[str, ...]) -> Any:  # noqa: ANN401 - JSON is of any kind
    """Return what stands at a path, or ``ABSENT``."""
    for step in steps:
        if isinstance(tree, dict):
            tree = tree.get(step, ABSENT)
        elif isinstance(tree, list) and step.isascii() and step.isdecimal():
            index = int(step)
            tree = tree[index] if index < len(tree) else ABSENT
        else:
            return ABSENT
    return tree
