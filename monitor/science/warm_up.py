"""A failed cooler warms up: how long until air, and contents, pass a limit, as a range.

Air runs exponentially to the temperature of the room outside, which is known to a few
kelvin. Each such temperature gives its own fit; the fits are weighed by how well they
agree with the readings, and the spread of their answers is the range. A figure to the
minute would be false in the first half hour.

References
----------
Newton's law of cooling; Holman, Heat Transfer, lumped capacity (from memory). Weighing
by Laplace's method, from memory (any text on Bayesian inference).
"""

from typing import Final, NamedTuple

import numpy as np

from monitor.errors import OutOfRangeError
from monitor.science.checking import Figures, Floats, positive, within
from monitor.science.series import Samples

ROOM_SD_K: Final = 2.0
LEAST_SAMPLES: Final = 4
_STEPS: Final = 8
_NODES: Final = np.linspace(-2.5, 2.5, 41)  # rooms, in standard deviations
_DEVIATES: Final = np.linspace(-2.5, 2.5, 11)  # of each fit's own error
_LEAST_TAU_S: Final = 120.0
_GREATEST_TAU_S: Final = 30.0 * 86_400.0
_BISECTIONS: Final = 60


def temperature_c(after_s: Figures, start_c: float, ambient_c: float, tau_s: float) -> Floats:
    """Return the air of a warming room. [°C]

    Parameters
    ----------
    after_s : float or ndarray
        Not negative. [s]
    start_c, ambient_c : float
        Now, and far in the future. [°C]
    tau_s : float
        Time constant, over zero. [s]

    Raises
    ------
    OutOfRangeError
        If a figure lies outside.
    """
    t_s = within("time", after_s, 0.0, np.inf, "s")
    left = np.exp(-t_s / positive("tau", tau_s, "s"))
    return np.asarray(ambient_c - (ambient_c - start_c) * left)


def time_to_limit_s(start_c: Figures, limit_c: float, ambient_c: Figures, tau_s: Figures) -> Floats:
    """Return how long a body takes towards ambient to reach a limit. [s]

    Parameters
    ----------
    start_c, limit_c, ambient_c : float or ndarray
        Now, at the limit, and far in the future. [°C]
    tau_s : float or ndarray
        Time constant, over zero. [s]

    Returns
    -------
    ndarray
        0 where it is there already; ``inf`` where ambient never carries it there. [s]

    Raises
    ------
    OutOfRangeError
        If a figure lies outside.

    References
    ----------
    t = tau ln((Tinf - T0)/(Tinf - TL)).
    """
    tau = within("tau", tau_s, np.nextafter(0.0, 1.0), np.inf, "s")
    start = within("start", start_c, -100.0, 200.0, "°C")
    ambient = within("ambient", ambient_c, -100.0, 200.0, "°C")
    within("limit", limit_c, -100.0, 200.0, "°C")
    reached = start >= limit_c
    never = ~reached & (ambient <= limit_c)
    whole, part = np.where(reached | never, 1.0, ambient - start), ambient - limit_c
    waits = tau * np.log(whole / np.where(reached | never, 1.0, part))
    return np.where(never, np.inf, np.where(reached, 0.0, waits))


class Fits(NamedTuple):
    """Possible courses of the air, shape (m,), with their weights (summing to 1)."""

    air_c: Floats
    ambient_c: Floats
    tau_s: Floats
    weight: Floats


class _Best(NamedTuple):
    """Best fit of each room, shape (rooms,): ambient less air now [K], 1/tau [1/s].

    ``spread`` is the squared error of ln(1/tau) a unit of noise, ``tilt`` how ``now``
    moves with ln(1/tau).
    """

    now: Floats
    rate: Floats
    spread: Floats
    tilt: Floats


def _best(t_s: Floats, t_c: Floats, ambient_c: Floats) -> _Best:
    """Return each room's least-squares fit, by Gauss and Newton from a straight line of ln."""
    fall = ambient_c[:, None] - t_c
    slope = np.polynomial.polynomial.polyfit(t_s, np.log(fall.T), 1)
    now, rate = np.exp(slope[0]), np.clip(-slope[1], 1 / _GREATEST_TAU_S, 1 / _LEAST_TAU_S)
    for _ in range(_STEPS):
        shape = np.exp(-rate[:, None] * t_s)
        bend = -now[:, None] * t_s * shape * rate[:, None]  # by ln rate: it stays positive
        rest = fall - now[:, None] * shape
        aa, ab, bb = (shape * shape).sum(1), (shape * bend).sum(1), (bend * bend).sum(1)
        ar, br = (shape * rest).sum(1), (bend * rest).sum(1)
        det = aa * bb - ab * ab
        now = now + (bb * ar - ab * br) / det
        step = np.clip((aa * br - ab * ar) / det, -1.0, 1.0)
        rate = np.clip(rate * np.exp(step), 1 / _GREATEST_TAU_S, 1 / _LEAST_TAU_S)
    return _Best(now, rate, aa / det, -ab / aa)


def fit(air: Samples, room_c: float, sensor_sd_k: float, room_sd_k: float = ROOM_SD_K) -> Fits:
    """Return the courses that agree with a warming air's readings so far.

    Parameters
    ----------
    air : Samples
        Air since the failure, at least four readings that rise. [°C]
    room_c : float
        Outside the cooler, over every reading. [°C]
    sensor_sd_k : float
        Noise of one reading, over zero; for a sensor read to 0.1 K at least 0.05. [K]
    room_sd_k : float
        How well the room is known, over zero. [K]

    Raises
    ------
    OutOfRangeError
        If there are too few readings, they do not rise towards the room, or a figure
        lies outside.
    """
    positive("the sensor's noise", sensor_sd_k, "K")
    positive("the room's error", room_sd_k, "K")
    if len(air.at_ms) < LEAST_SAMPLES:
        raise OutOfRangeError(
            f"{len(air.at_ms)} readings: a warm-up needs at least {LEAST_SAMPLES}"
        )
    t_s = (air.at_ms - air.at_ms[-1]) / 1000.0
    rise = float(np.polyfit(t_s, air.value, 1)[0])
    rooms = room_c + room_sd_k * _NODES
    nodes = _NODES[rooms > float(air.value.max()) + 3.0 * sensor_sd_k]
    if not nodes.size or rise <= 0.0:
        raise OutOfRangeError("the air does not rise towards the room: this is no warm-up")
    ambient = room_c + room_sd_k * nodes
    best = _best(t_s, air.value, ambient)
    rest = ambient[:, None] - best.now[:, None] * np.exp(-best.rate[:, None] * t_s) - air.value
    misfit = (rest * rest).sum(1) / sensor_sd_k**2
    score = -0.5 * (misfit - misfit.min()) - 0.5 * nodes**2
    weight = np.exp(score - score.max())[:, None] * np.exp(-0.5 * _DEVIATES**2)
    error = sensor_sd_k * np.sqrt(best.spread)[:, None] * _DEVIATES
    tau_s = np.clip(np.exp(-error) / best.rate[:, None], _LEAST_TAU_S, _GREATEST_TAU_S)
    full = np.broadcast_to(ambient[:, None], tau_s.shape)
    here = full - best.now[:, None] - best.tilt[:, None] * error
    return Fits(here.ravel(), full.ravel(), tau_s.ravel(), (weight / weight.sum()).ravel())


class Reach(NamedTuple):
    """When a limit is passed, from the newest reading on: 90 % range and middle. [s]

    ``inf`` where it may never be; ``chance`` is the weight of those that pass it.
    """

    early_s: float
    middle_s: float
    late_s: float
    chance: float


def _quantile(value: Floats, weight: Floats, share: float) -> float:
    order = np.argsort(value)
    total = np.cumsum(weight[order])
    return float(value[order][min(int(np.searchsorted(total, share)), len(value) - 1)])


def _reach(waits_s: Floats, weight: Floats) -> Reach:
    chance = float(weight[np.isfinite(waits_s)].sum())
    early, middle, late = (_quantile(waits_s, weight, share) for share in (0.05, 0.5, 0.95))
    return Reach(early, middle, late, min(1.0, chance))


def air_reaches(fits: Fits, limit_c: float) -> Reach:
    """Return when the air passes a limit [°C], as a range."""
    waits_s = time_to_limit_s(fits.air_c, limit_c, fits.ambient_c, fits.tau_s)
    return _reach(waits_s, fits.weight)


def contents_c(fits: Fits, contents_now_c: float, lag_s: float, after_s: Figures) -> Floats:
    """Return the contents of each fit after a time, behind its air by a lag. [°C]

    Parameters
    ----------
    fits : Fits
        Of shape (m,).
    contents_now_c : float
        Now. [°C]
    lag_s : float
        Time constant of the contents, over zero. [s]
    after_s : float or ndarray of shape (m,)
        Not negative. [s]

    References
    ----------
    Exact solution of two lags in a row, the second driven by the first.
    """
    positive("the lag", lag_s, "s")
    tau = np.where(np.abs(fits.tau_s / lag_s - 1.0) < 1e-6, fits.tau_s * 1.000_01, fits.tau_s)  # noqa: PLR2004
    driven = (fits.ambient_c - fits.air_c) * tau / (tau - lag_s)
    own = contents_now_c - fits.ambient_c + driven
    return np.asarray(
        fits.ambient_c - driven * np.exp(-after_s / tau) + own * np.exp(-after_s / lag_s)
    )


def contents_reach(fits: Fits, contents_now_c: float, lag_s: float, limit_c: float) -> Reach:
    """Return when contents pass a limit [°C] from below, as a range; by bisection.

    Raises
    ------
    OutOfRangeError
        If the lag is not over zero.
    """
    low = np.zeros_like(fits.tau_s)
    high = 20.0 * (fits.tau_s + lag_s)
    never = fits.ambient_c <= limit_c
    for _ in range(_BISECTIONS):
        middle = (low + high) / 2.0
        over = contents_c(fits, contents_now_c, lag_s, middle) >= limit_c
        low, high = np.where(over, low, middle), np.where(over, middle, high)
    waits_s = np.where(never, np.inf, high)
    return _reach(np.where(contents_now_c >= limit_c, 0.0, waits_s), fits.weight)
