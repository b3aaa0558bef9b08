"""Sunrise and sunset belong to the solar day that is asked for."""

import itertools
from datetime import UTC, date, datetime, timedelta

import pytest

from monitor.errors import OutOfRangeError
from monitor.science import sun


@pytest.mark.parametrize("longitude", [-179.0, -156.0, -122.0, -105.0, 0.0, 105.0, 150.0, 179.0])
def test_events_belong_to_the_local_solar_day(longitude: float) -> None:
    """Anywhere round the globe the sun rises before and sets after that day's own noon."""
    day = date(2025, 9, 22)
    noon = datetime(2025, 9, 22, 12, tzinfo=UTC) - timedelta(hours=longitude / 15.0)
    noon_ms = noon.timestamp() * 1000.0
    found = sun.sun_times(day, 38.5, longitude)
    assert found.rise_ms is not None
    assert found.set_ms is not None
    for event, hours in ((found.rise_ms, -6.0), (found.set_ms, 6.0)):
        assert (event - noon_ms) / 3_600_000.0 == pytest.approx(hours, abs=0.3)


def test_consecutive_sunsets_are_a_day_apart() -> None:
    """Far west and far east no evening is skipped or given twice."""
    for longitude in (-156.0, 172.0):
        sets = [
            sun.sun_times(date(2025, 3, 1) + timedelta(days=k), 40.0, longitude).set_ms
            for k in range(30)
        ]
        steps = [(b or 0) - (a or 0) for a, b in itertools.pairwise(sets)]
        assert all(abs(step - 86_400_000) < 180_000 for step in steps)


def test_where_the_sun_stays_up_there_is_no_sunset() -> None:
    """Midsummer far north and midwinter there have no events, and no night."""
    assert sun.sun_times(date(2025, 6, 21), 75.0, 20.0) == (None, None)
    assert sun.sun_times(date(2025, 12, 21), 75.0, 20.0) == (None, None)
    assert sun.night_of(date(2025, 6, 21), 75.0, 20.0) is None
    assert sun.hours_after_sunset(1_750_500_000_000, 75.0, 20.0) is None


def test_a_night_runs_from_sunset_to_the_next_sunrise() -> None:
    """Nights are long in December, short in June, and half the day at the equinox."""
    lengths = []
    for month, day in ((12, 21), (3, 20), (6, 21)):
        night = sun.night_of(date(2025, month, day), 42.0, -76.0)
        assert night is not None
        lengths.append(night.hours)
    assert lengths[0] > 14.0
    assert lengths[1] == pytest.approx(11.9, abs=0.2)
    assert lengths[2] < 9.0


def test_hours_after_sunset_run_through_the_night() -> None:
    """Before dusk they are negative, at dawn the night's length, at noon another evening's."""
    night = sun.night_of(date(2025, 4, 10), 42.0, -76.0)
    assert night is not None
    hour_ms = 3_600_000
    for hours in (-3.0, 0.0, 2.0, 10.0):
        at_ms = night.set_ms + round(hours * hour_ms)
        found = sun.hours_after_sunset(at_ms, 42.0, -76.0)
        assert found == pytest.approx(hours, abs=1e-6)


def test_places_off_the_globe_are_refused() -> None:
    """Latitudes and longitudes out of range are errors."""
    with pytest.raises(OutOfRangeError, match="latitude is 91"):
        sun.sun_times(date(2025, 1, 1), 91.0, 0.0)
    with pytest.raises(OutOfRangeError, match="longitude is 181"):
        sun.hours_after_sunset(0, 0.0, 181.0)
