"""What a tunnel's own nights teach, on measured tunnels: each night from the nights before."""

from datetime import UTC, date, datetime, timedelta
from typing import Final, NamedTuple

import numpy as np
import pytest

from monitor.science.frost_outlook import UNTAUGHT, Learned, learn, outlook
from monitor.science.frost_prior import Evening
from monitor.science.moist_air import dew_point_c, vapour_pressure_pa
from monitor.watch.nights import HOUR_MS, Hours, PastNights, Where, past_nights
from tests.outside.checking import column, rows
from tests.shared_files import shared

_LOGGERS: Final = ("tunnel_g1_trh_1", "tunnel_g1_trh_2", "tunnel_g2_trh_3")
_WHERE: Final = Where(45.4, 11.0)  # north-east Italy; the tunnels' own position is not published
_LIMIT_C: Final = 0.0
_LEAST_PAST: Final = 10
_WARNED: Final = 0.2  # the farm's setting for a message

pytestmark = pytest.mark.outside
for _logger in _LOGGERS:
    shared(f"data/{_logger}.csv.gz")


def _hours(logger: str) -> Hours:
    """Return a logger's hours, from plausible readings only; half an hour's must be there."""
    table = [row for row in rows(f"data/{logger}.csv.gz") if row["local_time"]]
    stamps = [datetime.fromisoformat(row["local_time"] + "+01:00") for row in table]
    at_ms = np.array([round(stamp.timestamp() * 1000.0) for stamp in stamps], dtype=np.int64)
    air, damp = column(table, "T_C"), column(table, "RH_pct")
    kept = (air > -20.0) & (air < 45.0) & (damp > 5.0) & (damp <= 100.0)
    at_ms, air, damp = at_ms[kept], air[kept], damp[kept]
    start = at_ms.min() // HOUR_MS * HOUR_MS
    which = (at_ms - start) // HOUR_MS
    count = np.bincount(which).astype(np.float64)
    known = np.where(count >= 2, count, np.nan)
    mean, humid = np.bincount(which, air) / known, np.bincount(which, damp) / known
    low = np.full(len(count), np.inf)
    np.minimum.at(low, which, air)
    sound = np.isfinite(mean)
    dew = np.full(len(count), np.nan)
    dew[sound] = dew_point_c(vapour_pressure_pa(mean[sound], humid[sound]))
    starts = start + np.arange(len(count), dtype=np.int64) * HOUR_MS
    return Hours(starts, mean, np.where(sound, low, np.nan), dew)


class Judged(NamedTuple):
    """One night: error without and with own nights [K], chance of frost, and the minimum. [°C]"""

    untaught_k: float
    taught_k: float
    chance: float
    least_c: float


def _each_night(hours: Hours, after_h: float) -> list[tuple[PastNights, Evening, float]]:
    """Return for every night its past, its own evening and its minimum."""
    first = datetime.fromtimestamp(hours.start_ms[0] / 1000, UTC).date()
    last = datetime.fromtimestamp(hours.start_ms[-1] / 1000, UTC).date()
    found, day = [], first + timedelta(days=2)
    while day <= last:
        past, known = past_nights(hours, _WHERE, after_h, day), _night(hours, after_h, day)
        day += timedelta(days=1)
        if known is not None and len(past.least_c) >= _LEAST_PAST:
            found.append((past, *known))
    return found


def _night(hours: Hours, after_h: float, day: date) -> tuple[Evening, float] | None:
    """Return one night, if it is known: the newest before the next day."""
    upto = past_nights(hours, _WHERE, after_h, day + timedelta(days=1))
    before = past_nights(hours, _WHERE, after_h, day)
    same = len(upto.least_c) == len(before.least_c) and np.array_equal(upto.least_c, before.least_c)
    if same or not len(upto.least_c):
        return None
    return Evening(*(part[-1:] for part in upto.evening)), float(upto.least_c[-1])


def _said(at: Evening, learned: Learned, least_c: float) -> tuple[float, float] | None:
    told = outlook(at, learned)
    return None if told is None else (told.least_c - least_c, told.chance_under(_LIMIT_C))


def _judged(hours: Hours, after_h: float) -> dict[float, Judged]:
    """Return how a logger's nights were told at an hour, by their day and minimum."""
    found = {}
    for past, at, least_c in _each_night(hours, after_h):
        plain = _said(at, UNTAUGHT, least_c)
        taught = _said(at, learn(past.evening, past.least_c), least_c)
        if plain is not None and taught is not None:
            found[float(at.year_day[0]) + 1e-3 * least_c] = Judged(plain[0], *taught, least_c)
    return found


Told = dict[float, dict[tuple[str, float], Judged]]


@pytest.fixture(scope="module")
def told() -> Told:
    """Return every night by the hour after sunset it was told at."""
    hours = {logger: _hours(logger) for logger in _LOGGERS}
    return {
        after_h: {
            (logger, key): night
            for logger in _LOGGERS
            for key, night in _judged(hours[logger], after_h).items()
        }
        for after_h in (-2.0, -1.0, 0.0, 2.0)
    }


@pytest.mark.parametrize("after_h", [-2.0, 0.0, 2.0])
def test_own_nights_bring_the_forecast_nearer(told: Told, after_h: float) -> None:
    """Taught by the nights before, the outlook errs less and is less one-sided than untaught."""
    nights = list(told[after_h].values())
    untaught = np.array([each.untaught_k for each in nights])
    taught = np.array([each.taught_k for each in nights])
    assert len(nights) > 300
    assert np.abs(taught).mean() < np.abs(untaught).mean()
    assert abs(taught.mean()) < abs(untaught.mean())


def test_after_dusk_the_error_is_under_two_kelvin(told: Told) -> None:
    """Two hours after sunset the mean error in these tunnels is within the pooled prior's own."""
    taught = np.array([each.taught_k for each in told[2.0].values()])
    assert np.abs(taught).mean() < 2.07  # mean error of the plain prior at its own stations


def test_the_afternoons_message_misses_few_frosts(told: Told) -> None:
    """Asked until sunset, at least 95 % of frosts are told in light, and not every night is."""
    whole = [key for key in told[0.0] if all(key in told[each] for each in (-2.0, -1.0, 0.0))]
    warned = np.array([
        max(told[each][key].chance for each in (-2.0, -1.0, 0.0)) >= _WARNED for key in whole
    ])  # fmt: skip
    frost = np.array([told[0.0][key].least_c <= _LIMIT_C for key in whole])
    assert frost.sum() >= 90
    assert warned[frost].mean() >= 0.95
    assert warned[~frost].mean() < 0.6


@pytest.mark.parametrize(("low", "high"), [(0.0, 0.2), (0.2, 0.5), (0.5, 0.8), (0.8, 1.01)])
def test_a_chance_after_dusk_is_kept(told: Told, low: float, high: float) -> None:
    """Of nights given a chance two hours after sunset, about that share froze."""
    band = [each for each in told[2.0].values() if low <= each.chance < high]
    chance = np.array([each.chance for each in band])
    froze = np.array([each.least_c <= _LIMIT_C for each in band])
    assert len(band) >= 30
    assert float(froze.mean()) == pytest.approx(float(chance.mean()), abs=0.15)
