"""Text that every page and terminal can show: what a record may not hold is refused."""

import unicodedata
from collections.abc import Mapping
from typing import Any, Final

from monitor.errors import LedgerRuleError
from monitor.phrase import Phrase

NAME_AT_MOST: Final = 300
NOTE_AT_MOST: Final = 2_000
_UNSHOWABLE: Final = frozenset({"Cc", "Cs"})  # control characters, halves of a character
_LONG: Final = frozenset({"note", "reason"})


def printable(text: str, most: int, what: str, *, lines: bool = False) -> str:
    """Return a text as it is, if it can be shown; ``lines`` allows line ends and tabs.

    Raises
    ------
    LedgerRuleError
        If it is longer than ``most`` characters, or holds what cannot be shown.
    """
    if len(text) > most:
        raise LedgerRuleError(
            Phrase(
                "{what} is {length:,} characters long: shorten it to {most:,} at most",
                what=what,
                length=len(text),
                most=most,
            )
        )
    for each in text:
        if unicodedata.category(each) in _UNSHOWABLE and not (lines and each in "\n\r\t"):
            raise LedgerRuleError(
                Phrase(
                    "{what} holds a character that cannot be shown (U+{code:04X}): type it again "
                    "without it; a terminal should be set to UTF-8",
                    what=what,
                    code=ord(each),
                )
            )
    return text


def check_texts(data: Mapping[str, Any]) -> None:
    """Refuse an entry's data if one of its texts cannot be shown.

    Raises
    ------
    LedgerRuleError
        If one cannot.
    """
    for key, value in data.items():
        if isinstance(value, str):
            long = key in _LONG
            most = NOTE_AT_MOST if long else NAME_AT_MOST
            printable(value, most, key.replace("_", " "), lines=long)
