"""Counts and batch numbers as people write them."""

import pytest

from monitor.batches.counts import Count, counted, parse_batch_id, parse_count
from monitor.errors import LedgerRuleError


@pytest.mark.parametrize(
    ("text", "count"),
    [
        ("600", Count(600)),
        (" 1,200 ", Count(1200)),
        ("about 600", Count(600, rough=True)),
        ("~600", Count(600, rough=True)),
        ("About 1,200", Count(1200, rough=True)),
        ("ca. 40", Count(40, rough=True)),
        ("unos 600", Count(600, rough=True)),
        ("Unas 1,200", Count(1200, rough=True)),
        ("aprox. 40", Count(40, rough=True)),
        ("cerca de 40", Count(40, rough=True)),
    ],
)
def test_a_count_is_read_exact_or_rough(text: str, count: Count) -> None:
    """A plain number is exact; about, ca. or ~ make it rough."""
    assert parse_count(text) == count


@pytest.mark.parametrize(
    "text",
    ["", "-5", "six", "3.5", "1e3", "1,20", "٣", "10000001", "5 stems", "uno 600", "600 unos"],
)
def test_what_is_no_count_is_refused_with_the_way_to_write_it(text: str) -> None:
    """Anything but a whole number up to ten million is refused, and the form named."""
    with pytest.raises(LedgerRuleError, match="write a whole number"):
        parse_count(text)


@pytest.mark.parametrize("text", ["14", "#14", "batch 14", " Batch #14 "])
def test_a_batch_number_may_be_written_as_it_is_spoken(text: str) -> None:
    """14, #14 and batch 14 name the same batch."""
    assert parse_batch_id(text) == 14


@pytest.mark.parametrize("text", ["", "ranunculus", "-1", "1.5", "batch"])
def test_what_names_no_batch_is_refused(text: str) -> None:
    """A text without a plain number names no batch."""
    with pytest.raises(LedgerRuleError, match="no batch number"):
        parse_batch_id(text)


def test_a_count_is_said_in_its_unit() -> None:
    """One is singular, rough says about, unknown says not counted."""
    assert counted(1, "stems") == "1 stem"
    assert counted(1, "bunches") == "1 bunch"
    assert counted(1640, "stems", rough=True) == "about 1,640 stems"
    assert counted(None, "corms") == "corms, not counted"
