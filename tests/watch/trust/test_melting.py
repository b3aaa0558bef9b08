"""A flat line at 0 °C is melting ice as well as a dead probe (latent heat of fusion).

The courses are made up; the plateau is textbook physics (from memory).
"""

import numpy as np
import pytest

from monitor.model import Channel, PlaceKind, Quantity, Side
from monitor.watch.events import Values
from monitor.watch.trust import Doubt, Reason, Trust, after, assess

_PER_HOUR = 4
_HOUR = np.arange(47 * _PER_HOUR) / _PER_HOUR
_AT_MS = 20_454 * 86_400_000 + (_HOUR * 3_600_000).astype(np.int64)


def _night(hours: float, value_c: float, step: float = 0.1) -> Values:
    """Return an air that swings with the day and ends in so many hours at one value. [°C]"""
    noise = np.random.default_rng(3).normal(0.0, 0.2, _HOUR.size)
    swing = 4.0 + 5.0 * np.sin(_HOUR / 24.0 * 2.0 * np.pi) + noise
    course = np.where(47 - hours <= _HOUR, value_c, swing)
    rounded: Values = np.round(course / step) * step
    return rounded


def _found(*courses: Values, quantity: Quantity = Quantity.TEMPERATURE) -> dict[str, Doubt]:
    pairs = []
    for number, course in enumerate(courses):
        trust = after(Trust(), _AT_MS, course, np.zeros(course.size, dtype=np.int64))
        pairs.append((Channel(f"s{number}", quantity), trust))
    return {each.sensor: doubt for each, doubt in assess(PlaceKind.TUNNEL, pairs).items()}


@pytest.mark.parametrize("step", [0.1, 0.5, 1.0])
def test_a_melting_night_keeps_no_lone_sensor_from_judging_frost(step: float) -> None:
    """29 quarter hours at exactly 0.0 °C: frost is judged by it, and nothing is told."""
    doubt = _found(_night(29 / 4, 0.0, step)).get("s0")
    assert doubt is None or (doubt.sides == {Side.HIGH} and not doubt.told)


def test_a_day_of_exactly_zero_is_told_and_frost_still_judged() -> None:
    """No air melts ice for 25 hours on end: told, and still good for the cold side."""
    course = _night(25.5, 0.0)
    doubt = _found(course)["s0"]
    assert (doubt.reason, doubt.sides, doubt.told) == (Reason.FLAT, frozenset({Side.HIGH}), True)


def test_soil_stays_at_zero_for_weeks() -> None:
    """Thawing soil holds 0 °C (the zero curtain): a flat line there is no sign."""
    assert _found(_night(26, 0.0), quantity=Quantity.SOIL_TEMPERATURE) == {}


def test_a_lone_sensor_that_stops_elsewhere_judges_nothing() -> None:
    """Eight hours of exactly 6.3 °C from a sensor that always moved: neither side."""
    doubt = _found(_night(8, 6.3))["s0"]
    assert (doubt.reason, doubt.sides, doubt.told) == (Reason.FLAT, frozenset(Side), True)


def test_zero_is_not_believed_where_the_neighbour_freezes() -> None:
    """It says 0.0 while the air beside it falls to -5 °C: the neighbour judges."""
    falling = _night(1, 0.0) + np.where(_HOUR >= 40, -0.9 * (_HOUR - 40), 0.0)
    found = _found(_night(7, 0.0), falling - np.where(_HOUR >= 40, 3.0, 0.0))
    assert found["s0"].reason is Reason.FLAT
    assert found["s0"].sides == set(Side)


def test_air_that_a_neighbour_calls_still_is_still() -> None:
    """Both hardly move all night: neither is doubted."""
    noise = np.random.default_rng(5).normal(0.0, 0.03, _HOUR.size)
    assert _found(_night(8, 6.3), _night(8, 6.3) + noise) == {}
