"""Text that every page and terminal can show."""

import pytest

from monitor.batches.plain_text import NAME_AT_MOST, check_texts, printable
from monitor.batches.rules.writing import Writing, agreed
from monitor.errors import LedgerRuleError
from monitor.model import EntryKind, NewEntry

NOW_MS = 1_790_000_000_000


@pytest.mark.parametrize("text", ["\udcff\udcfe", "red\x1b[31m", "two\nlines", "\x00", "\x9b"])
def test_what_cannot_be_shown_is_refused(text: str) -> None:
    """Halves of a character and control characters enter no record."""
    with pytest.raises(LedgerRuleError, match="cannot be shown"):
        check_texts({"cultivar": text})


def test_what_can_be_shown_stays_as_it_is() -> None:
    """Accents and other scripts are fine, and a note may have several lines."""
    assert printable("Café 東", NAME_AT_MOST, "cultivar") == "Café 東"
    check_texts({"note": "one\ntwo", "count": 3, "lot": None})


def test_a_text_has_an_end() -> None:
    """A name longer than its limit is refused."""
    with pytest.raises(LedgerRuleError, match="300 at most"):
        printable("x" * 301, NAME_AT_MOST, "cultivar")


def test_no_entry_is_agreed_with_such_a_text() -> None:
    """The rule stands before the ledger, for the data and for the writer."""
    bad = NewEntry(None, EntryKind.ADDED, NOW_MS, "Ada", {"cultivar": "\udcff"})
    with pytest.raises(LedgerRuleError, match="cultivar"):
        agreed([], [bad], Writing("Ada", NOW_MS, NOW_MS))
    with pytest.raises(LedgerRuleError, match="the writer's name"):
        agreed([], [], Writing("A\x1bda", NOW_MS, NOW_MS))
