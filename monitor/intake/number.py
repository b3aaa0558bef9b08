"""The one grammar of a number written as text.

The whole text must match: a longest prefix is never taken, for ``4.1.0`` and ``4.1e``
are transmission errors and not 4.1.
"""

import math
import re
from typing import Final

from monitor.errors import PayloadError
from monitor.intake.reasons import Reason, shown

BYTE_ORDER_MARK: Final = b"\xef\xbb\xbf"
LONGEST: Final = 64  # characters; no instrument writes a longer number

_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d+)?|\.\d+)(?:[eE][+-]?\d{1,3})?", re.ASCII)
_COMMA = re.compile(r"[+-]?\d+,\d+", re.ASCII)
_THOUSANDS = re.compile(r"[+-]?\d{1,3},000", re.ASCII)
_LABELLED = re.compile(
    r"(?P<number>[+-]?[\d.,]+(?:[eE][+-]?\d+)?)\s*(?!e\Z)(?P<label>\D{1,12})",
    re.ASCII | re.IGNORECASE,
)

NO_VALUE: Final = frozenset(
    {"", "unavailable", "unknown", "null", "none", "undefined", "n/a", "na", "-", "--"}
)
_NOT_FINITE: Final = frozenset(
    {"nan", "inf", "infinity", "+inf", "-inf", "+infinity", "-infinity", "+nan", "-nan"}
)


def text_of(payload: bytes) -> str:
    """Return a message's text without byte-order mark, trailing NULs and white space.

    Raises
    ------
    PayloadError
        If the bytes are no UTF-8.
    """
    try:
        text = payload.removeprefix(BYTE_ORDER_MARK).decode("utf-8")
    except UnicodeDecodeError as wrong:
        raise PayloadError(Reason.NOT_TEXT, f"no UTF-8 text at byte {wrong.start}") from wrong
    return text.strip(" \t\r\n\x00")


def split_label(text: str) -> tuple[str, str | None]:
    """Return the number's text and the unit written after it, if one is."""
    found = _LABELLED.fullmatch(text)
    return (text, None) if found is None else (found["number"], found["label"].strip())


def parse_number(text: str, *, decimal_comma: bool = False) -> float:
    """Read a text, already stripped, as a number.

    Parameters
    ----------
    text : str
        The whole text; anything left over refuses it.
    decimal_comma : bool
        Whether the channel declares that it writes ``4,1``. ``1,000`` is refused even
        then, since it may be a thousand.

    Raises
    ------
    PayloadError
        If the text is empty, names no value, or is not one finite number.
    """
    if len(text) > LONGEST:
        raise PayloadError(Reason.NOT_A_NUMBER, f"{len(text)} characters are no number")
    if decimal_comma and _COMMA.fullmatch(text) and not _THOUSANDS.fullmatch(text):
        text = text.replace(",", ".")
    if _NUMBER.fullmatch(text) is None:
        raise _refused(text)
    value = float(text)
    if not math.isfinite(value):
        raise PayloadError(Reason.SENSOR_FAULT, f"{shown(text)} is no finite number")
    return value


def _refused(text: str) -> PayloadError:
    word = text.casefold()
    if word in NO_VALUE:
        return PayloadError(Reason.MISSING, f"{shown(text)} says that there is no value")
    if word in _NOT_FINITE:
        return PayloadError(Reason.SENSOR_FAULT, f"{shown(text)} is no finite number")
    return PayloadError(Reason.NOT_A_NUMBER, f"{shown(text)} is no number")
