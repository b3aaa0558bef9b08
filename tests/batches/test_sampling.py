"""Samples of roots as noted beside the tray."""

import pytest

from monitor.batches.book import Roots
from monitor.batches.sampling import parse_length_mm, parse_roots
from monitor.errors import LedgerRuleError


@pytest.mark.parametrize("text", ["22 of 25", "22/25", " 22 OF 25 "])
def test_a_share_is_read_as_counted(text: str) -> None:
    """22 of 25 keeps both figures and the length it was judged by."""
    assert parse_roots(text, 30.0) == Roots((), 22, 25, 0.88, 30.0)


def test_a_percentage_is_read_as_a_share() -> None:
    """80 % is a share with no sample size."""
    assert parse_roots("80 %") == Roots((), None, None, 0.8, None)


@pytest.mark.parametrize(
    ("text", "lengths_mm"),
    [
        ("12, 15, 20 mm", (12.0, 15.0, 20.0)),
        ("0.5 1 1.25 in", (12.7, 25.4, 31.75)),  # 1 in = 25.4 mm exactly (NIST SP 811, B.8)
        ("1;2 cm", (10.0, 20.0)),
    ],
)
def test_lengths_are_read_in_their_unit(text: str, lengths_mm: tuple[float, ...]) -> None:
    """Lengths in mm, cm or inches are kept in mm."""
    assert parse_roots(text).lengths_mm == lengths_mm


def test_lengths_give_the_share_at_any_length() -> None:
    """A length that just reaches the limit counts as reaching it."""
    roots = parse_roots("10 25.4 30 40 mm")
    assert roots.share_at(25.4) == 0.75
    assert parse_roots("3 of 4").share_at(25.4) == 0.75


@pytest.mark.parametrize(
    "text", ["", "long", "12 15", "26 of 25", "0 of 0", "120 %", "1.2.3 mm", "12 miles"]
)
def test_what_is_no_sample_is_refused(text: str) -> None:
    """Lengths without a unit, impossible shares and prose are refused."""
    with pytest.raises(LedgerRuleError, match="roots"):
        parse_roots(text)


def test_roots_beyond_reason_are_refused() -> None:
    """Roots of a metre are a wrong unit."""
    with pytest.raises(LedgerRuleError, match="check the unit"):
        parse_roots("40 in")


def test_one_length_is_read_and_two_are_not() -> None:
    """A limit is one length with its unit."""
    assert parse_length_mm("1 in") == 25.4
    with pytest.raises(LedgerRuleError, match="no length"):
        parse_length_mm("1 2 in")
