"""Counts as people say them: exact, or "about 600"."""

import re
from typing import Final, NamedTuple

from monitor.errors import LedgerRuleError

MOST: Final = 10_000_000


class Count(NamedTuple):
    """A number of corms, plants or stems; rough where it was not counted one by one."""

    number: int
    rough: bool = False


_COUNT = re.compile(r"(about|around|approx\.?|ca\.?|~|≈)?\s*(\d{1,3}(?:,\d{3})+|\d+)", re.ASCII)


def parse_count(text: str) -> Count:
    """Read ``"600"``, ``"1,200"``, ``"about 600"`` or ``"~600"``.

    Raises
    ------
    LedgerRuleError
        If the text is no whole number, or beyond ten million.
    """
    found = _COUNT.fullmatch(text.strip().lower())
    number = int(found[2].replace(",", "")) if found else -1
    if found is None or number > MOST:
        raise LedgerRuleError(
            f"{text!r} is no count: write a whole number up to {MOST:,}, as 600, or about 600"
        )
    return Count(number, rough=found[1] is not None)


def positive(count: Count, what: str) -> Count:
    """Return a count of at least one.

    Raises
    ------
    LedgerRuleError
        If it is zero.
    """
    if count.number < 1:
        raise LedgerRuleError(f"0 {what} is nothing to record: give a number of at least 1")
    return count


_SINGULAR: Final = {"bunches": "bunch"}


def counted(number: int | None, unit: str, *, rough: bool = False) -> str:
    """Say a count: ``"about 600 stems"``, ``"1 corm"``, ``"corms, not counted"``."""
    if number is None:
        return f"{unit}, not counted"
    noun = _SINGULAR.get(unit, unit.removesuffix("s")) if number == 1 else unit
    return f"{'about ' if rough else ''}{number:,} {noun}"


def parse_batch_id(text: str) -> int:
    """Read a batch's number, written ``14``, ``#14`` or ``batch 14``.

    Raises
    ------
    LedgerRuleError
        If the text names no batch that way.
    """
    found = re.fullmatch(r"(?:batch)?\s*#?\s*(\d{1,9})", text.strip().lower(), re.ASCII)
    if found is None:
        raise LedgerRuleError(
            f"{text!r} is no batch number: write it as 14, as cormwatch batch list shows it"
        )
    return int(found[1])
