"""Counts as people say them: exact, or "about 600"."""

import re
from typing import Final, NamedTuple

from monitor.errors import LedgerRuleError
from monitor.phrase import Phrase

MOST: Final = 10_000_000


class Count(NamedTuple):
    """A number of corms, plants or stems; rough where it was not counted one by one."""

    number: int
    rough: bool = False


_COUNT = re.compile(
    r"(about|around|approx\.?|ca\.?|~|≈|un[oa]s|aprox\.?|cerca de|alrededor de)?"
    r"\s*(\d{1,3}(?:,\d{3})+|\d+)",
    re.ASCII,
)


def parse_count(text: str) -> Count:
    """Read ``"600"``, ``"1,200"``, ``"about 600"``, ``"~600"``, or in Spanish ``"unos 600"``.

    Raises
    ------
    LedgerRuleError
        If the text is no whole number, or beyond ten million.
    """
    found = _COUNT.fullmatch(text.strip().lower())
    number = int(found[2].replace(",", "")) if found else -1
    if found is None or number > MOST:
        raise LedgerRuleError(
            Phrase(
                '"{text}" is no count: write a whole number up to {most:,}, as 600, or about 600',
                text=text,
                most=MOST,
            )
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
        raise LedgerRuleError(
            Phrase(
                "0 {what} is nothing to record: give a number of at least 1", what=unit_word(what)
            )
        )
    return count


_UNITS: Final = {
    "corms": Phrase("corms"), "corm": Phrase("corm"), "plants": Phrase("plants"),
    "plant": Phrase("plant"), "stems": Phrase("stems"), "stem": Phrase("stem"),
    "bunches": Phrase("bunches"), "bunch": Phrase("bunch"), "culls": Phrase("culls"),
    "stems in a bunch": Phrase("stems in a bunch"),
}  # fmt: skip
_SINGULAR: Final = {"bunches": "bunch"}


def counted(number: int | None, unit: str, *, rough: bool = False) -> str:
    """Say a count: ``"about 600 stems"``, ``"1 corm"``, ``"corms, not counted"``."""
    if number is None:
        return Phrase("{unit}, not counted", unit=unit_word(unit))
    noun = _SINGULAR.get(unit, unit.removesuffix("s")) if number == 1 else unit
    return say_count(number, noun, rough=rough)


def say_count(number: int, noun: str, *, rough: bool) -> str:
    """Say how many of something there are: ``"about 600 stems"``."""
    if rough:
        return Phrase("about {number:,} {noun}", number=number, noun=unit_word(noun))
    return Phrase("{number:,} {noun}", number=number, noun=unit_word(noun))


def unit_word(noun: str) -> str:
    """Return the word for what is counted, so that it can be told in every language."""
    return _UNITS.get(noun, noun)


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
            Phrase(
                '"{text}" is no batch number: write it as 14, as cormwatch batch list shows it',
                text=text,
            )
        )
    return int(found[1])
