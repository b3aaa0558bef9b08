"""The grammar of a number."""

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.errors import PayloadError
from monitor.intake.number import parse_number, split_label, text_of


@pytest.mark.parametrize(
    ("text", "value"),
    [("4.1", 4.1), ("-0.5", -0.5), ("+3", 3.0), (".5", 0.5), ("4.1e1", 41.0), ("12E-1", 1.2)],
)
def test_a_number_is_read_as_written(text: str, value: float) -> None:
    """A whole number, with sign, fraction or exponent, is read (JavaScript's number forms)."""
    assert parse_number(text) == value


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("4.1e", "not_a_number"),
        ("4.1.0", "not_a_number"),
        ("4.", "not_a_number"),
        ("1,000", "not_a_number"),
        ("4,1", "not_a_number"),
        ("???", "not_a_number"),
        ("0x10", "not_a_number"),
        ("1_000", "not_a_number"),
        ("\uff14.\uff11", "not_a_number"),  # full-width digits
        ("4.1 4.2", "not_a_number"),
        ("9" * 5000, "not_a_number"),
        ("nan", "sensor_fault"),
        ("-Infinity", "sensor_fault"),
        ("1e400", "sensor_fault"),
        ("unavailable", "missing"),
        ("Unknown", "missing"),
        ("null", "missing"),
        ("", "missing"),
    ],
)
def test_what_is_no_number_is_refused_whole(text: str, reason: str) -> None:
    """No longest prefix is taken, and no value is never 0."""
    with pytest.raises(PayloadError) as refused:
        parse_number(text)
    assert refused.value.reason == reason


def test_a_decimal_comma_is_read_only_where_declared() -> None:
    """``4,1`` is 4.1 on a channel that declares it; ``1,000`` may be a thousand."""
    assert parse_number("4,1", decimal_comma=True) == 4.1
    assert parse_number("4.1", decimal_comma=True) == 4.1
    with pytest.raises(PayloadError):
        parse_number("1,000", decimal_comma=True)


@pytest.mark.parametrize("payload", [b"4.1\x00", b"\xef\xbb\xbf4.1", b"4.1\r\n", b" \t4.1\x00\x00"])
def test_stray_bytes_around_a_text_are_dropped(payload: bytes) -> None:
    """A trailing NUL, a byte-order mark, CR LF and white space change nothing."""
    assert text_of(payload) == "4.1"


def test_bytes_of_another_encoding_are_refused() -> None:
    """Latin-1 is not guessed at."""
    with pytest.raises(PayloadError) as refused:
        text_of("4.1 °C".encode("latin-1"))
    assert refused.value.reason == "not_text"


@given(st.floats(allow_nan=False, allow_infinity=False, min_value=-1e99, max_value=1e99))
def test_every_finite_number_comes_back_from_its_text(value: float) -> None:
    """Reading a number's own shortest text gives the number."""
    assert parse_number(repr(value)) == value


@given(st.text(max_size=80))
def test_any_text_is_a_number_or_refused(text: str) -> None:
    """No text ends the reading of numbers."""
    number, _ = split_label(text)
    value = None
    with suppress(PayloadError):
        value = parse_number(number)
    assert value is None or value == float(number)
