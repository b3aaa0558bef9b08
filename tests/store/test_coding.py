"""Values survive their short form."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.store.coding import decode, decode_one, encode
from monitor.units import TemperatureUnit, to_celsius

FINITE = st.floats(allow_nan=False, allow_infinity=False)
TWO_DECIMALS = st.integers(-10_000, 20_000).map(lambda whole: whole / 100)


@given(st.lists(st.one_of(FINITE, TWO_DECIMALS), min_size=1, max_size=50))
def test_every_value_comes_back_exactly(values: list[float]) -> None:
    """What is read is what was written, to the last bit, whatever form it took."""
    stored = encode(np.array(values))
    assert decode(stored).tolist() == values
    assert [decode_one(each) for each in stored] == values


@given(st.integers(-3_600, 3_600))
def test_two_decimals_in_celsius_take_two_bytes(hundredths: int) -> None:
    """A two-decimal reading is a whole number that SQLite keeps in two bytes."""
    (stored,) = encode(np.array([hundredths / 100]))
    assert isinstance(stored, int)
    assert -(2**15) <= stored < 2**15


@given(st.integers(-4_000, 10_000))
def test_fahrenheit_with_two_decimals_takes_two_bytes(hundredths_f: int) -> None:
    """A reading given in °F costs no more than one in °C."""
    celsius = to_celsius(hundredths_f / 100, TemperatureUnit.FAHRENHEIT)
    (stored,) = encode(np.array([celsius]))
    assert isinstance(stored, int)
    assert -(2**15) <= stored < 2**15


@pytest.mark.parametrize("value", [math.pi, 1e-9, 1e300, -1e12, 4.1 + 2**-40])
def test_a_value_without_a_short_form_stays_as_it_is(value: float) -> None:
    """Nothing is rounded to make it short."""
    assert encode(np.array([value])) == [value]
    assert isinstance(encode(np.array([value]))[0], float)


def test_an_infinite_value_in_the_file_is_read_as_such() -> None:
    """A value another program put into the file ends no reader."""
    assert decode([math.inf, 300]).tolist() == [math.inf, 1.0]


def test_what_is_no_number_is_unknown() -> None:
    """A text that a damaged file holds in a value's place is read as no number."""
    values = decode(["abc", 4.5, 1200])  # type: ignore[list-item]
    assert np.isnan(values[0])
    assert values[1:].tolist() == [4.5, 4.0]
