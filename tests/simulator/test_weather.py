"""The weather repeats, has days, nights and seasons, and frost nights when asked."""

from zoneinfo import ZoneInfo

import numpy as np
import pytest

from simulator.faults import Fault, FaultKind
from simulator.surroundings import frost_nights, hours_of_day, surroundings
from simulator.weather import Climate, FrostNight, Weather
from tests.simulator.farms import DAY_MS, HOUR_MS, START_MS

CLIMATE = Climate(41.0, -75.0)
MONTH_MS = START_MS + np.arange(0, 30 * DAY_MS, 600_000, dtype=np.int64)


def test_the_same_time_has_the_same_weather_however_it_is_asked_for() -> None:
    """Weather asked for in pieces equals the whole to the last bit that matters."""
    weather = Weather(CLIMATE, 5)
    whole = weather.at(MONTH_MS).air_c
    pieces = [weather.at(part).air_c for part in np.array_split(MONTH_MS, 7)]
    assert np.concatenate(pieces) == pytest.approx(whole, abs=1e-9)


def test_another_seed_is_another_weather() -> None:
    """Two seeds differ by degrees."""
    one, two = (Weather(CLIMATE, seed).at(MONTH_MS).air_c for seed in (1, 2))
    assert np.abs(one - two).mean() > 1.0


@pytest.mark.parametrize("seed", range(5))
def test_the_dew_point_never_exceeds_the_air(seed: int) -> None:
    """Dew point, cloud, wind and sun stay within what nature allows."""
    outside = Weather(CLIMATE, seed).at(MONTH_MS)
    assert (outside.dew_c <= outside.air_c).all()
    assert ((outside.cloud_oktas >= 0.0) & (outside.cloud_oktas <= 8.0)).all()
    assert (outside.wind_m_s > 0.0).all()
    assert ((outside.sun_w_m2 >= 0.0) & (outside.sun_w_m2 < 1_100.0)).all()


def test_clear_days_swing_more_than_cloudy_ones() -> None:
    """Over a year the clearest fifth of the days swings at least 1.5 times the cloudiest."""
    year_ms = START_MS + np.arange(0, 360 * DAY_MS, 600_000, dtype=np.int64)
    outside = Weather(CLIMATE, 4).at(year_ms)
    days = outside.air_c.reshape(360, -1)
    swing, cloud = np.ptp(days, axis=1), outside.cloud_oktas.reshape(360, -1).mean(axis=1)
    order = np.argsort(cloud)
    assert swing[order[:72]].mean() > 1.5 * swing[order[-72:]].mean()


def test_the_coldest_hour_is_towards_dawn_and_the_warmest_in_the_afternoon() -> None:
    """Averaged over a month the day has its usual shape."""
    outside = Weather(CLIMATE, 6).at(MONTH_MS)
    hour = hours_of_day(ZoneInfo("America/New_York"), MONTH_MS)
    means = [outside.air_c[np.floor(hour) == each].mean() for each in range(24)]
    assert 3 <= int(np.argmin(means)) <= 7
    assert 13 <= int(np.argmax(means)) <= 17


@pytest.mark.parametrize(("latitude", "warm_month"), [(41.0, 7), (-41.0, 1)])
def test_summer_comes_in_july_in_the_north_and_in_january_in_the_south(
    latitude: float, warm_month: int
) -> None:
    """The season's mean is highest in the hemisphere's summer."""
    months = np.arange("2026-01", "2027-01", dtype="datetime64[M]")
    middle_ms = (months.astype("datetime64[ms]").astype(np.int64)) + 14 * DAY_MS
    season = Weather(Climate(latitude, 0.0), 1).season_c(middle_ms)
    assert int(np.argmax(season)) + 1 == warm_month


def test_a_frost_night_reaches_its_depth_clear_and_calm() -> None:
    """The night's lowest air is the one asked for, under an open sky without wind."""
    dusk_ms = START_MS + 5 * DAY_MS
    outside = Weather(CLIMATE, 9, (FrostNight(dusk_ms, -5.0),)).at(MONTH_MS)
    night = (dusk_ms <= MONTH_MS) & (dusk_ms + 16 * HOUR_MS > MONTH_MS)
    assert outside.air_c[night].min() == pytest.approx(-5.0, abs=0.2)
    assert outside.cloud_oktas[night].max() < 0.1
    assert outside.wind_m_s[night].max() < 0.5


def test_a_frost_night_begins_at_the_first_dusk_and_ends_after_dawn() -> None:
    """Asked for at noon, the night lasts from that evening to the next morning."""
    noon_ms = START_MS + 16 * HOUR_MS
    (night,) = frost_nights(CLIMATE, (Fault(FaultKind.FROST_NIGHT, noon_ms),))
    zone = ZoneInfo("America/New_York")
    until_ms = night.start_ms + int(night.length_s * 1000)
    hours = hours_of_day(zone, np.array([night.start_ms, until_ms], dtype=np.int64))
    assert 18.0 < hours[0] < 20.0
    assert 6.0 < hours[1] < 9.0


def test_the_farms_hours_follow_its_clock_through_both_changes() -> None:
    """The hour of the day agrees with zoneinfo across spring and autumn."""
    zone = ZoneInfo("America/New_York")
    for day in ("2026-03-08", "2026-11-01"):
        start_ms = int(np.datetime64(day, "ms").astype(np.int64))
        at_ms = start_ms + np.arange(0, DAY_MS, 60_000, dtype=np.int64)
        said = hours_of_day(zone, at_ms)
        for row in range(0, at_ms.size, 97):
            moment = np.datetime64(int(at_ms[row]) * 1000, "us").item()
            local = zone.fromutc(moment.replace(tzinfo=zone))
            assert said[row] == pytest.approx(local.hour + local.minute / 60.0)


def test_the_shed_is_steadier_than_the_weather() -> None:
    """The shed swings less from day to night than the air outside."""
    around = surroundings(Weather(CLIMATE, 2), ZoneInfo("America/New_York"), MONTH_MS)
    days = (30, -1)
    shed = np.ptp(around.shed_c.reshape(days), axis=1).mean()
    assert shed < 0.6 * np.ptp(around.outside.air_c.reshape(days), axis=1).mean()
