"""JSON that every reader takes: no infinite figure and no NaN, and said where one was."""

from collections.abc import Mapping
from math import isfinite
from typing import Any, Final

FLAG: Final = "not_finite"


def sound(told: object) -> Any:  # noqa: ANN401  # whatever JSON can hold
    """Return JSON values with null for each figure that is none.

    The object that held one names its keys under ``not_finite``.
    """
    if isinstance(told, Mapping):
        cleaned = {key: sound(value) for key, value in told.items()}
        lost = [key for key, value in told.items() if _holds(value)]
        return cleaned | {FLAG: lost} if lost else cleaned
    if isinstance(told, list | tuple):
        return [sound(each) for each in told]
    if isinstance(told, str):
        return whole(told)
    return None if _bad(told) else told


def whole(text: str) -> str:
    """Return a text that UTF-8 can carry; half of a character becomes a question mark."""
    return text.encode(errors="replace").decode()


def _bad(value: object) -> bool:
    return isinstance(value, float) and not isfinite(value)


def _holds(value: object) -> bool:
    """Return whether a value is no finite figure, or a list that holds one."""
    return any(map(_bad, value)) if isinstance(value, list | tuple) else _bad(value)
