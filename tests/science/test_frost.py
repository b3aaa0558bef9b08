"""A frost night's minimum, course and outlook."""

import numpy as np
import pytest

from monitor.errors import OutOfRangeError
from monitor.science import frost, frost_outlook, frost_prior
from monitor.science.checking import Floats
from monitor.science.frost_outlook import Basis
from monitor.science.frost_prior import Evening, evening


def _nights(count: int, seed: int, slope: float, level: float) -> tuple[Evening, Floats]:
    """Return evenings two hours after sunset, and the minima of a made-up site."""
    dice = np.random.default_rng(seed)
    air, dew = dice.uniform(0.0, 12.0, count), dice.uniform(-8.0, 0.0, count)
    blank = np.full(count, np.nan)
    at = Evening(air, dew, np.full(count, 2.0), np.full(count, 100.0), blank, blank)
    return at, slope * air + 0.2 * dew + level + dice.normal(0.0, 0.8, count)


APRIL = evening(6.0, -2.0, after_sunset_h=2.0, year_day=105.0)


def test_a_limit_the_night_never_reaches_is_never() -> None:
    """Under the night's own minimum there is no time; over the start it is passed at once."""
    assert frost.hours_to_limit(-6.0, 1.0, -5.0, 12.0) == float("inf")
    assert frost.hours_to_limit(2.0, 1.0, -5.0, 12.0) == 2.0
    assert frost.hours_to_limit(-5.0, 1.0, -5.0, 12.0) == pytest.approx(12.0)
    assert frost.hours_to_limit(-1.0, 1.0, 1.0, 12.0) == float("inf")


def test_a_dew_point_that_never_varies_takes_no_part() -> None:
    """With one dew point every night the second step adds nothing."""
    air = np.array([1.0, 2.0, 3.0, 4.0, 5.0])
    found = frost.fit(air, np.full(5, -3.0), air - 6.0)
    assert found.air == pytest.approx(1.0)
    assert found.dew == 0.0


def test_too_few_or_unequal_nights_are_refused() -> None:
    """Four nights are no fit; columns of other lengths and wild figures are errors."""
    four = np.array([1.0, 2.0, 3.0, 4.0])
    with pytest.raises(OutOfRangeError, match="at least 5"):
        frost.fit(four, four, four)
    with pytest.raises(OutOfRangeError, match="a minimum each"):
        frost.fit(four, four, four[:3])
    with pytest.raises(OutOfRangeError, match="dew point at dusk is -99"):
        frost.fit(four, four * 0.0 - 99.0, four)
    with pytest.raises(OutOfRangeError, match="length of the night"):
        frost.night_course_c(3.0, 1.0, -5.0, 2.0)
    with pytest.raises(OutOfRangeError, match="hours after sunset is 1"):
        frost.night_course_c(1.0, 1.0, -5.0, 12.0)


def test_before_any_night_the_pooled_prior_speaks_and_says_so() -> None:
    """A new farm's outlook rests on other places' nights, with a wide spread for a tunnel."""
    tunnel = frost_outlook.outlook(APRIL)
    outside = frost_outlook.outlook(APRIL, under_cover=False)
    assert tunnel is not None
    assert outside is not None
    assert (tunnel.basis, tunnel.nights) == (Basis.PRIOR, 0)
    assert tunnel.least_c == outside.least_c
    assert tunnel.sd_k > outside.sd_k


def test_own_nights_move_the_outlook_by_their_offset() -> None:
    """Seven nights two kelvin colder than the prior move it part of the way, and it says so."""
    at, _ = _nights(7, 1, 0.5, -2.0)
    learned = frost_outlook.learn(at, frost_prior.least_c(at) - 2.0)
    assert -2.0 < learned.offset_k < -0.5
    told = frost_outlook.outlook(APRIL, learned)
    plain = frost_outlook.outlook(APRIL)
    assert told is not None
    assert plain is not None
    assert (told.basis, told.nights) == (Basis.PRIOR_WITH_OFFSET, 7)
    assert told.least_c == pytest.approx(plain.least_c + learned.offset_k)
    assert told.sd_k < plain.sd_k


def test_twenty_nights_that_do_better_switch_to_the_own_regression() -> None:
    """A site unlike the others is judged by its own nights from the twentieth on."""
    at, least = _nights(40, 2, 1.1, -9.0)
    nineteen = frost_outlook.learn(Evening(*(part[:19] for part in at)), least[:19])
    assert nineteen.own is None
    learned = frost_outlook.learn(at, least)
    assert learned.own is not None
    told = frost_outlook.outlook(APRIL, learned)
    assert told is not None
    assert (told.basis, told.nights) == (Basis.OWN_NIGHTS, 40)
    assert told.least_c == pytest.approx(1.1 * 6.0 + 0.2 * -2.0 - 9.0, abs=0.6)


def test_the_own_regression_waits_for_dusk() -> None:
    """In the afternoon, with no dusk figures yet, the moved prior speaks."""
    at, least = _nights(40, 2, 1.1, -9.0)
    early = evening(12.0, -2.0, after_sunset_h=-2.0, year_day=105.0)
    told = frost_outlook.outlook(early, frost_outlook.learn(at, least))
    assert told is not None
    assert told.basis is Basis.PRIOR_WITH_OFFSET


def test_nights_like_the_others_keep_the_prior() -> None:
    """Where a regression of its own would not have done better, it does not take over."""
    at, _ = _nights(40, 3, 0.5, -2.0)
    dice = np.random.default_rng(3)
    learned = frost_outlook.learn(at, frost_prior.least_c(at) + dice.normal(0.0, 2.0, 40))
    assert learned.own is None


def test_leaving_a_night_out_is_refitting_without_it() -> None:
    """The fast leave-one-out errors are those of fitting each time anew."""
    at, least = _nights(12, 5, 0.7, -4.0)
    plain = []
    for k in range(12):
        rest = np.arange(12) != k
        fitted = frost.fit(at.air_c[rest], at.dew_c[rest], least[rest])
        guess = frost.least_temperature_c(fitted, at.air_c[k], at.dew_c[k])
        plain.append(float(least[k] - guess))
    np.testing.assert_allclose(frost_outlook._own_without_each(at, least), plain, atol=1e-12)


def test_a_forecast_low_is_weighed_in() -> None:
    """A typed-in low pulls the outlook towards it, more so the surer it is."""
    plain = frost_outlook.outlook(APRIL)
    vague = frost_outlook.outlook(APRIL, forecast_c=-8.0, forecast_sd_k=4.0)
    sure = frost_outlook.outlook(APRIL, forecast_c=-8.0, forecast_sd_k=1.0)
    assert plain is not None
    assert vague is not None
    assert sure is not None
    assert -8.0 < sure.least_c < vague.least_c < plain.least_c
    assert sure.forecast_used
    assert sure.sd_k == 1.0


def test_the_chance_grows_with_the_limit() -> None:
    """Under its own middle the chance is a half; far under it nothing, far over it sure."""
    told = frost_outlook.outlook(APRIL)
    assert told is not None
    assert told.chance_under(told.least_c) == pytest.approx(0.5)
    assert told.chance_under(-30.0) < 1e-6
    assert told.chance_under(30.0) > 1.0 - 1e-6


def test_an_evening_outside_the_model_has_no_outlook() -> None:
    """Long before sunset, in great heat, or with a dew point over the air: nothing is said."""
    for tonight in (
        evening(10.0, 0.0, after_sunset_h=-6.0, year_day=105.0),
        evening(55.0, 0.0, after_sunset_h=1.0, year_day=105.0),
        evening(5.0, 9.0, after_sunset_h=1.0, year_day=105.0),
        evening(float("nan"), 0.0, after_sunset_h=1.0, year_day=105.0),
    ):
        assert frost_outlook.outlook(tonight) is None


def test_bad_nights_are_refused() -> None:
    """Unequal columns, a wild minimum and a wild forecast are errors; none teach nothing."""
    at, least = _nights(7, 1, 0.5, -2.0)
    with pytest.raises(OutOfRangeError, match="each evening"):
        frost_outlook.learn(at, least[:3])
    with pytest.raises(OutOfRangeError, match="least temperature"):
        frost_outlook.learn(at, least + 99.0)
    with pytest.raises(OutOfRangeError, match="forecast low is 99"):
        frost_outlook.outlook(APRIL, forecast_c=99.0)
    none = Evening(*(part[:0] for part in at))
    assert frost_outlook.learn(none, least[:0]) == frost_outlook.UNTAUGHT
