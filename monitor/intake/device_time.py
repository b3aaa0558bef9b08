"""The sensor's own time: understood in many forms, believed only where credible."""

import re
from datetime import datetime
from typing import Any, Final

from monitor.intake.tree import NotFinite

AHEAD_MS: Final = 300_000  # clocks drift; five minutes ahead of receipt is still believed
BEHIND_MS: Final = 90 * 86_400_000  # a logger's memory; older is a clock that lost its date
USUAL_KEYS: Final = ("time", "timestamp", "ts", "at")

_LONGEST = 64
_DIGITS = re.compile(r"\d{1,20}(?:\.\d{1,9})?", re.ASCII)

# Magnitudes of times between 1973 and 5138 in each unit, told apart without overlap.
_MAGNITUDES: Final = (
    (1e8, 1e11, 1000.0),  # s
    (1e11, 1e14, 1.0),  # ms
    (1e14, 1e17, 1e-3),  # µs
    (1e17, 1e20, 1e-6),  # ns
)


def credible(at_ms: float, received_ms: int) -> bool:
    """Return whether a device time [ms] may be believed beside the time of receipt."""
    return received_ms - BEHIND_MS <= at_ms <= received_ms + AHEAD_MS


def device_time_ms(value: Any) -> int | None:  # noqa: ANN401 - JSON is of any kind
    """Read a device's time: s, ms, µs or ns since 1970, or ISO 8601 text with its zone.

    Returns
    -------
    int or None
        UTC [ms]; None where the value is no time, or a text without a zone.
    """
    if isinstance(value, bool | NotFinite):
        return None
    if isinstance(value, str):
        return _from_text(value.strip(" \t\r\n\x00"))
    if isinstance(value, int | float):
        return _from_number(value)
    return None


def _from_number(value: float) -> int | None:
    for low, high, scale in _MAGNITUDES:
        if low <= value < high:
            return round(value * scale)
    return None


def _from_text(text: str) -> int | None:
    if len(text) > _LONGEST:
        return None
    if _DIGITS.fullmatch(text):
        return _from_number(float(text))
    try:
        moment = datetime.fromisoformat(text)
        return None if moment.tzinfo is None else round(moment.timestamp() * 1000)
    except (ValueError, OverflowError):
        return None
