"""The outlook for tonight at one place: a least temperature, its spread, a chance.

It starts from the pooled prior, moves it by this place's own offset as its nights come
in, and switches to the place's own FAO regression once that has at least twenty nights
taken about two hours after sunset *and* would have forecast them better, each night left
out in turn. A forecast low that the grower types in is weighed in. Which of these spoke
is always said. A tunnel can be colder than outside: no bonus is assumed before its own
nights show one.
"""

from enum import StrEnum
from math import erf, isfinite, sqrt
from typing import Final, NamedTuple

import numpy as np

from monitor.errors import OutOfRangeError
from monitor.science import frost, frost_prior
from monitor.science.checking import Flags, Floats, positive, within
from monitor.science.frost_prior import POOLED, Evening, Pooled

SWITCH_NIGHTS: Final = 20
NEWEST_NIGHTS: Final = 60
FORECAST_SD_K: Final = 2.0
UNSEEN_SD_K: Final = 1.5
_OFFSET_WEIGHT: Final = 15.0  # nights that the prior's own offset of zero counts for
_DUSK_H: Final = 0.75  # how far from two hours after sunset a dusk figure may lie


class Basis(StrEnum):
    """What the outlook rests on."""

    PRIOR = "pooled nights of other places"
    PRIOR_WITH_OFFSET = "pooled nights, moved by this place's own nights"
    OWN_NIGHTS = "this place's own nights"


class OwnNights(NamedTuple):
    """A place's own regression, once it has earned its turn."""

    coefficients: frost.Coefficients
    nights: int
    sd_k: float


class Learned(NamedTuple):
    """What a place's own nights have taught.

    ``offset_k`` moves the pooled figure, ``sd_k`` is the spread of its nights around
    that, None while there are none; ``own`` is set once its own regression took over.
    """

    nights: int
    offset_k: float
    sd_k: float | None
    own: OwnNights | None


UNTAUGHT: Final = Learned(0, 0.0, None, None)


def at_dusk(at: Evening) -> Flags:
    """Return which evenings were taken about two hours after sunset."""
    return np.asarray(np.abs(at.after_sunset_h - frost.START_H) <= _DUSK_H)


def _without_each(rest: Floats) -> Floats:
    """Return each night's error by an offset learned from all the others. [K]"""
    return np.asarray(rest - (rest.sum() - rest) / (len(rest) - 1 + _OFFSET_WEIGHT))


def _lines(x: Floats, y: Floats, used: Floats) -> tuple[Floats, Floats]:
    """Return slope and constant of a line through the used nights of each row."""
    count = used.sum(axis=1, keepdims=True)
    middle_x = (used * x).sum(axis=1, keepdims=True) / count
    middle_y = (used * y).sum(axis=1, keepdims=True) / count
    across = (used * (x - middle_x) * (y - middle_y)).sum(axis=1)
    spread = (used * (x - middle_x) ** 2).sum(axis=1)
    slope = across / np.where(spread > 0.0, spread, np.inf)
    return slope, middle_y[:, 0] - slope * middle_x[:, 0]


def _own_without_each(at: Evening, least_c: Floats) -> Floats:
    """Return each night's error by the two-step regression over all the others. [K]"""
    used = 1.0 - np.eye(len(least_c))
    air, level_1 = _lines(at.air_c, least_c, used)
    rest = least_c - air[:, None] * at.air_c - level_1[:, None]
    dew, level_2 = _lines(at.dew_c, rest, used)
    return np.asarray(np.diagonal(rest) - dew * at.dew_c - level_2)


def learn(own: Evening, least_c: Floats, pooled: Pooled = POOLED) -> Learned:
    """Return what past nights of a place teach about tonight.

    Parameters
    ----------
    own : Evening
        Past evenings, shape (n,), taken at about tonight's hour after sunset, in time
        order; the newest sixty are used.
    least_c : ndarray, shape (n,)
        Least temperature of each of those nights at the place. [°C]
    pooled : Pooled
        Coefficients of the prior.

    Raises
    ------
    OutOfRangeError
        If shapes differ or a temperature lies outside -40 to 45 °C.
    """
    within("least temperature", least_c, -40.0, 45.0, "°C")
    if own.air_c.shape != least_c.shape:
        raise OutOfRangeError("each evening needs the least temperature of its night")
    own = Evening(*(part[-NEWEST_NIGHTS:] for part in own))
    least_c = least_c[-NEWEST_NIGHTS:]
    rest = least_c - frost_prior.least_c(own, pooled)
    usable = ~np.isnan(rest)
    rest, count = rest[usable], int(usable.sum())
    if not count:
        return UNTAUGHT
    left_out = _without_each(rest)
    offset_k = float(rest.sum() / (count + _OFFSET_WEIGHT))
    own_nights = _earned(own, least_c, usable, left_out)
    prior_sd_k = float(frost_prior.error_sd_k(own)[usable].mean())
    return Learned(count, offset_k, _spread(left_out, prior_sd_k), own_nights)


def _spread(errors: Floats, prior_sd_k: float) -> float:
    """Return the spread of errors, the pooled one counting for fifteen nights. [K]"""
    squares = float((errors**2).sum()) + _OFFSET_WEIGHT * prior_sd_k**2
    return sqrt(squares / (len(errors) + _OFFSET_WEIGHT))


def _earned(own: Evening, least_c: Floats, usable: Flags, left_out: Floats) -> OwnNights | None:
    """Return the place's own regression, if it has nights enough and would have done better."""
    dusk = usable & at_dusk(own)
    if int(dusk.sum()) < SWITCH_NIGHTS:
        return None
    at, least = Evening(*(part[dusk] for part in own)), least_c[dusk]
    errors = _own_without_each(at, least)
    if np.abs(errors).mean() >= np.abs(left_out[dusk[usable]]).mean():
        return None
    fitted = frost.fit(at.air_c, at.dew_c, least)
    prior_sd_k = float(frost_prior.error_sd_k(at).mean())
    return OwnNights(fitted, len(least), _spread(errors, prior_sd_k))


class Outlook(NamedTuple):
    """Tonight's least temperature [°C], its spread [K] and what it rests on.

    ``nights`` is how many of the place's own nights count; ``forecast_used`` says that
    a typed-in low was weighed in.
    """

    least_c: float
    sd_k: float
    basis: Basis
    nights: int
    forecast_used: bool

    def chance_under(self, limit_c: float) -> float:
        """Return the chance, 0 to 1, that the night goes to a limit or under it. [°C]"""
        return 0.5 * (1.0 + erf((limit_c - self.least_c) / (self.sd_k * sqrt(2.0))))


def _from_own(tonight: Evening, own: OwnNights | None) -> Outlook | None:
    if own is None or not at_dusk(tonight)[0]:
        return None
    guess = frost.least_temperature_c(own.coefficients, tonight.air_c[0], tonight.dew_c[0])
    return Outlook(float(guess), own.sd_k, Basis.OWN_NIGHTS, own.nights, forecast_used=False)


def _from_prior(
    tonight: Evening, learned: Learned, pooled: Pooled, unseen_sd_k: float
) -> Outlook | None:
    low_c = float(frost_prior.least_c(tonight, pooled)[0])
    if not isfinite(low_c):
        return None
    unseen = unseen_sd_k**2 * _OFFSET_WEIGHT / (_OFFSET_WEIGHT + learned.nights)
    spread_k = learned.sd_k or float(frost_prior.error_sd_k(tonight)[0])
    basis = Basis.PRIOR_WITH_OFFSET if learned.nights else Basis.PRIOR
    low_c, sd_k = low_c + learned.offset_k, sqrt(spread_k**2 + unseen)
    return Outlook(low_c, sd_k, basis, learned.nights, forecast_used=False)


def _with_forecast(outlook: Outlook, forecast_c: float, forecast_sd_k: float) -> Outlook:
    """Weigh a forecast in by inverse squares; errors go together, so no spread is gained."""
    weight = outlook.sd_k**2 / (outlook.sd_k**2 + forecast_sd_k**2)
    low_c = outlook.least_c + weight * (forecast_c - outlook.least_c)
    sd_k = min(outlook.sd_k, forecast_sd_k)
    return outlook._replace(least_c=low_c, sd_k=sd_k, forecast_used=True)


def outlook(
    tonight: Evening,
    learned: Learned = UNTAUGHT,
    forecast_c: float | None = None,
    forecast_sd_k: float = FORECAST_SD_K,
    *,
    under_cover: bool = True,
    pooled: Pooled = POOLED,
) -> Outlook | None:
    """Return the outlook for tonight, or None where the evening lies outside the model.

    Parameters
    ----------
    tonight : Evening
        Of shape (1,): see `frost_prior.evening`.
    learned : Learned
        From the place's own nights.
    forecast_c : float, optional
        Low of a weather forecast, for this place or moved to it. [°C]
    forecast_sd_k : float
        Spread of its error, over zero; two kelvin is from memory. [K]
    under_cover : bool
        Whether the place is a tunnel, unlike the stations the pooled nights come from:
        until its own nights tell, that widens the spread (by 1.5 K, from memory).
    pooled : Pooled
        Coefficients of the prior.

    Raises
    ------
    OutOfRangeError
        If the forecast lies outside -40 to 45 °C or its spread is not over zero.
    """
    unseen_sd_k = UNSEEN_SD_K if under_cover else 0.0
    found = _from_own(tonight, learned.own) or _from_prior(tonight, learned, pooled, unseen_sd_k)
    if found is None or forecast_c is None:
        return found
    within("the forecast low", forecast_c, -40.0, 45.0, "°C")
    return _with_forecast(found, forecast_c, positive("the forecast's spread", forecast_sd_k, "K"))
