"""Tonight at one place: the limit that matters, the chance, the hour, and what is missing."""

from dataclasses import replace
from datetime import date
from math import pi, sqrt

import numpy as np
import pytest

from monitor.farm import Crop, Place
from monitor.model import Band, Grade, Harm, PlaceKind, Quantity, Stage
from monitor.science.frost_outlook import Basis
from monitor.science.sun import Night
from monitor.watch.nights import HOUR_MS, NO_NIGHTS, Hours, Where, night_day, night_of, past_nights
from monitor.watch.tonight import (
    Lack,
    Limit,
    Now,
    Tonight,
    Typed,
    _passes_ms,
    least_if_under,
    limit_of,
    tonight,
)
from tests.watch.made import batch

WHERE = Where(42.4, -73.3)
DAY = date(2026, 3, 10)


def _harm(low_c: float) -> dict[Quantity, Band]:
    return {Quantity.TEMPERATURE: Band(None, Harm(low_c, None, 0.0, 0.0, Grade.FARM, "a test"))}


TUNNEL = Place("tunnel", "Tunnel", PlaceKind.TUNNEL, _harm(-3.0))
STAGES = {
    "rosette": Stage("rosette", "Rosette", (PlaceKind.TUNNEL,), _harm(-5.0)),
    "bud": Stage("bud", "Bud", (PlaceKind.TUNNEL,), _harm(-1.0)),
    "planted": Stage("planted", "Just planted", (PlaceKind.TUNNEL,)),
}
CROPS = {"ranunculus": Crop("ranunculus", "Ranunculus", STAGES)}


def _night() -> Night:
    night = night_of(DAY, WHERE)
    assert night is not None
    return night


def _blank(typed: Typed | None = None, limit_c: float = -1.0) -> Tonight:
    return Tonight("tunnel", DAY, _night(), typed=typed, limit=Limit(limit_c), holds=True)


def _told(now: Now | Lack, typed: Typed | None = None) -> Tonight:
    return tonight(_blank(typed), now, NO_NIGHTS, WHERE, under_cover=True)


def _now(after_sunset_h: float, air_c: float, dew_c: float) -> Now:
    return Now(_night().set_ms + round(after_sunset_h * HOUR_MS), air_c, dew_c)


def test_the_tenderest_stage_there_sets_the_limit() -> None:
    """Of the batches in a place the one hurt first counts, each by its own stage's limit."""
    both = [batch(1, "rosette", "tunnel"), batch(2, "bud", "tunnel")]
    assert limit_of(TUNNEL, both, CROPS) == Limit(-1.0, "Bud", (2,))
    assert limit_of(TUNNEL, both[:1], CROPS) == Limit(-5.0, "Rosette", (1,))


def test_the_place_stands_in_where_no_stage_says() -> None:
    """A stage without a limit has the place's; an empty place its own; none at all is None."""
    assert limit_of(TUNNEL, [batch(3, "planted", "tunnel")], CROPS) == Limit(-3.0, "", (3,))
    assert limit_of(TUNNEL, [], CROPS) == Limit(-3.0)
    assert limit_of(replace(TUNNEL, bands={}), [], CROPS) is None


def test_the_mean_of_the_lower_half_is_known() -> None:
    """Half of a normal spread lies sqrt(2/pi) deviations below its mean on the average."""
    assert least_if_under(0.0, 0.0, 2.0) == pytest.approx(-2.0 * sqrt(2.0 / pi))
    assert least_if_under(50.0, 3.0, 2.0) == pytest.approx(3.0)
    assert least_if_under(-60.0, 3.0, 2.0) == -60.0


def test_the_hour_follows_the_published_night() -> None:
    """FAO's run of 15 h from 0.95 to -5.45 °C is at -2.60008 °C six hours after sunset."""
    night, now = Night(0, 15 * HOUR_MS), Now(3 * HOUR_MS, 0.0, -8.0, dusk_c=0.95)
    passes_ms = _passes_ms(night, now, 3.0, (-5.45, 1e-6), -2.60008)
    assert passes_ms is not None
    assert passes_ms / HOUR_MS == pytest.approx(6.0, abs=1e-4)


def test_before_dusk_the_hour_follows_the_measured_share() -> None:
    """At sunset 27 % of the fall is made by dusk: the rest follows the square root of time."""
    night, now = Night(0, 14 * HOUR_MS), Now(0, 10.0, 2.0)
    passes_ms = _passes_ms(night, now, 0.0, (0.0, 1e-6), 10.0 - 2.7 - 7.3 / 2.0)
    assert passes_ms is not None
    assert passes_ms / HOUR_MS == pytest.approx(2.0 + 12.0 / 4.0, abs=1e-4)


def test_a_cold_dry_evening_is_told_a_warm_one_is_not() -> None:
    """The chance of the limit is large after a cold dry dusk and all but nothing in warmth."""
    cold, warm = _told(_now(2.0, 1.0, -8.0)), _told(_now(2.0, 16.0, 12.0))
    assert (cold.chance or 0.0) > 0.6
    assert (warm.chance or 1.0) < 0.001
    assert cold.basis is Basis.PRIOR


@pytest.mark.parametrize(
    ("now", "lack"),
    [
        (Lack.NO_HUMIDITY, Lack.NO_HUMIDITY),
        (Lack.AIR_OLD, Lack.AIR_OLD),
        (_now(-5.0, 8.0, 2.0), Lack.TOO_EARLY),
        (_now(2.0, 44.0, 2.0), Lack.OUTSIDE),
    ],
)
def test_what_is_not_known_is_no_figure(now: Now | Lack, lack: Lack) -> None:
    """Without humidity, air, a fit hour or a fit evening there is no figure, but a reason."""
    told = _told(now)
    assert (told.lack, told.least_c, told.chance) == (lack, None, None)


def test_a_typed_forecast_speaks_alone_and_is_known_as_such() -> None:
    """Where the model cannot speak the forecast does, wider in a tunnel, on no basis of ours."""
    told = _told(Lack.NO_HUMIDITY, Typed(-1.0, "Wren", 0))
    assert (told.least_c, told.basis, told.lack) == (-1.0, None, Lack.NO_HUMIDITY)
    assert told.chance == pytest.approx(0.5)
    assert (told.sd_k or 0.0) > 2.0


def test_no_sunset_is_a_reason() -> None:
    """Where the sun does not set nothing is computed."""
    told = tonight(
        replace(_blank(), night=None), Lack.AIR_OLD, NO_NIGHTS, WHERE, under_cover=True
    )  # fmt: skip
    assert (told.lack, told.least_c) == (Lack.NO_NIGHT, None)


def test_before_sunrise_the_night_is_still_yesterdays() -> None:
    """At three in the morning tonight began yesterday; at nine it is the one to come."""
    three, nine = (1_773_126_000_000 + h * HOUR_MS for h in (0, 6))  # 10 March, 03:00 and 09:00 EDT
    assert night_day(three, WHERE) == date(2026, 3, 9)
    assert night_day(nine, WHERE) == date(2026, 3, 10)


def _hours(days: int, known: "np.ndarray[tuple[int], np.dtype[np.bool_]] | None" = None) -> Hours:
    last = (_night().set_ms // HOUR_MS) * HOUR_MS
    start = np.arange(last - days * 24 * HOUR_MS, last, HOUR_MS, dtype=np.int64)
    air = 10.0 + 6.0 * np.cos((start / HOUR_MS - 20.0) * np.pi / 12.0)  # coolest at 08:00 UTC
    if known is not None:
        air = np.where(known, air, np.nan)
    return Hours(start, air, air - 0.5, np.where(np.isnan(air), np.nan, 2.0))


def test_past_nights_are_read_off_the_hours() -> None:
    """An evening is read between two hours, its minimum from the hours of its night."""
    past = past_nights(_hours(30), WHERE, 2.0, DAY)
    assert len(past.least_c) == 30
    np.testing.assert_allclose(past.least_c, 3.5, atol=1e-9)
    assert set(past.evening.after_sunset_h) == {2.0}
    assert (past.evening.air_fall_k[1:] < 0.0).all()
    assert list(past.evening.year_day) == sorted(past.evening.year_day)


def test_only_the_newest_sixty_nights_are_kept() -> None:
    """A year of nights is no more to hold or learn from than sixty."""
    assert len(past_nights(_hours(360), WHERE, 2.0, DAY).least_c) == 60


def test_a_year_of_gaps_teaches_nothing() -> None:
    """A year in which every night has six unknown hours leaves no night, and no error."""
    hours = _hours(360)
    half = (hours.start_ms // HOUR_MS) % 24 >= 6  # the first six hours of each UTC day are not
    past = past_nights(_hours(360, half), WHERE, 2.0, DAY)
    assert len(past.least_c) == 0
    assert len(past_nights(_hours(360, half & False), WHERE, 2.0, DAY).least_c) == 0
    told = tonight(_blank(), _now(2.0, 5.0, 0.0), past, WHERE, under_cover=True)
    assert (told.basis, told.own_nights) == (Basis.PRIOR, 0)
