"""Ageing of cut stems: Q10 in the cold, the handbook's rates above, cooler time left.

A mean never excuses a warm spell: rates are integrated over the readings.

References
----------
Çelikel, Cevallos & Reid 2010, Sci. Hort. 125:429 (snapdragon); Çelikel & Reid (rose,
gypsophila); USDA Agriculture Handbook 66 (relative rates 1, 3.0, 7.5, 15, 22.5 at 0, 10,
20, 30, 40 °C); USP <1160> (mean kinetic temperature).
"""

from typing import Final, NamedTuple

import numpy as np

from monitor.model import Grade
from monitor.science.checking import Figures, Flags, Floats, positive, within
from monitor.science.series import Samples

LEAST_C: Final = -2.0  # most flowers freeze below -1 °C
GREATEST_C: Final = 40.0
BORROWED: Final = "borrowed from other flowers"
_HANDBOOK_C: Final = np.array([0.0, 10.0, 20.0, 30.0, 40.0])
_HANDBOOK_LN: Final = np.log(np.array([1.0, 3.0, 7.5, 15.0, 22.5]))
_GAS: Final = 8.314462618  # [J/(mol K)]
_KELVIN: Final = 273.15
_DAY_S: Final = 86_400.0
_LEVEL: Final = 1e-4  # below this the logarithmic mean is the plain one to 1e-9


class Q10(NamedTuple):
    """How much faster a flower ages 10 K warmer, up to where that was measured.

    Above ``until_c`` [°C] the handbook's relative rates carry on from there.
    """

    factor: float
    until_c: float
    source: str
    borrowed: bool
    grade: Grade = Grade.PUBLISHED


_MEASURED: Final = {
    "snapdragon": Q10(2.6, 20.0, "Çelikel, Cevallos & Reid 2010", borrowed=False),
    "rose": Q10(3.0, 10.0, "Çelikel & Reid", borrowed=False),
    "gypsophila": Q10(3.0, 10.0, "Çelikel & Reid", borrowed=False),
}
_OTHERS: Final = Q10(3.0, 10.0, f"{BORROWED} (rose, gypsophila: Çelikel & Reid)", borrowed=True)


def q10_of(flower: str) -> Q10:
    """Return a flower's own Q10, or the one borrowed from other flowers, marked so."""
    return _MEASURED.get(flower.strip().lower(), _OTHERS)


def in_range(temperature_c: Figures) -> Flags:
    """Return where the ageing rate is defined: -2 to 40 °C."""
    t_c = np.asarray(temperature_c, dtype=np.float64)
    return np.asarray((t_c >= LEAST_C) & (t_c <= GREATEST_C))


def _ln_rate(t_c: Floats, q10: Q10) -> Floats:
    """Return ln of the rate against 0 °C."""
    slope = float(np.log(q10.factor)) / 10.0
    warm = np.interp(t_c, _HANDBOOK_C, _HANDBOOK_LN) - np.interp(
        q10.until_c, _HANDBOOK_C, _HANDBOOK_LN
    )
    return np.where(t_c <= q10.until_c, slope * t_c, slope * q10.until_c + warm)


def ageing_rate(temperature_c: Figures, q10: Q10, reference_c: float = 0.0) -> Floats:
    """Return how fast stems age against a reference temperature.

    Parameters
    ----------
    temperature_c : float or ndarray
        Of the stems. [°C]
    q10 : Q10
        Of the flower.
    reference_c : float
        Where the rate is 1, -2 to 40. [°C]

    Returns
    -------
    ndarray
        NaN outside -2 to 40 °C, where nothing is known; `in_range` tells which.

    Raises
    ------
    OutOfRangeError
        If the reference lies outside.

    References
    ----------
    rate = Q10^((T - Tref)/10); above the Q10's own range the rates of USDA Agriculture
    Handbook 66, interpolated in their logarithm.
    """
    reference = within("reference", reference_c, LEAST_C, GREATEST_C, "°C")
    t_c = np.asarray(temperature_c, dtype=np.float64)
    ln_rate = _ln_rate(t_c, q10) - float(_ln_rate(reference, q10))
    return np.where(in_range(t_c), np.exp(ln_rate), np.nan)


class Ageing(NamedTuple):
    """What stems have aged: days at the reference temperature over the known time.

    ``outside_s`` is known time colder or warmer than the model's range: it is not in
    ``equivalent_days``, which is then a least figure.
    """

    equivalent_days: float
    known_s: float
    outside_s: float


def aged(stems: Samples, q10: Q10, reference_c: float = 0.0) -> Ageing:
    """Return how much stems aged, each step a straight line of temperature.

    The logarithmic mean of the rates at both ends integrates an exponential exactly; a
    step over a bend of the curve is off by far less than its length warrants.

    Raises
    ------
    OutOfRangeError
        If the reference lies outside -2 to 40 °C.
    """
    rate = ageing_rate(stems.value, q10, reference_c)
    step_s, joined = stems.step_s, stems.joined
    usable = joined & in_range(stems.value)[1:] & in_range(stems.value)[:-1]
    before, after = rate[:-1][usable], rate[1:][usable]
    ratio = np.log(after / before)
    near = np.abs(ratio) < _LEVEL
    mean_rate = np.where(near, (before + after) / 2.0, (after - before) / np.where(near, 1, ratio))
    days = float((mean_rate * step_s[usable]).sum()) / _DAY_S
    return Ageing(days, float(step_s[joined].sum()), float(step_s[joined & ~usable].sum()))


class Limit(NamedTuple):
    """The farm's longest cooler time [d] at a temperature [°C]."""

    days: float
    at_c: float


class CoolerTime(NamedTuple):
    """Cooler time used and left, against a cautious limit of the farm's own.

    ``left_days`` holds as long as the stems stay at ``stays_at_c`` [°C]; it is negative
    once the limit has passed.
    """

    used_share: float
    left_days: float
    stays_at_c: float
    q10: Q10
    at_least: bool


def cooler_time(ageing: Ageing, q10: Q10, limit: Limit, stays_at_c: float) -> CoolerTime:
    """Return the cooler time used and left.

    Parameters
    ----------
    ageing : Ageing
        Taken against ``limit.at_c`` as its reference.
    q10 : Q10
        The same as the ageing was taken with.
    limit : Limit
        The farm's longest time and its temperature.
    stays_at_c : float
        Where the stems will be kept from now, -2 to 40. [°C]

    Raises
    ------
    OutOfRangeError
        If a temperature lies outside or the limit is not over zero.
    """
    positive("the longest time", limit.days, "d")
    within("temperature from now", stays_at_c, LEAST_C, GREATEST_C, "°C")
    rate = float(ageing_rate(stays_at_c, q10, limit.at_c))
    left = (limit.days - ageing.equivalent_days) / rate
    used = ageing.equivalent_days / limit.days
    return CoolerTime(used, left, stays_at_c, q10, at_least=ageing.outside_s > 0.0)


def activation_energy_j_mol(q10_factor: float, low_c: float = 0.0) -> float:
    """Return the activation energy of a Q10 between a temperature and 10 K above. [J/mol]

    Raises
    ------
    OutOfRangeError
        If the factor is not over one or the temperature outside -40 to 60 °C.

    References
    ----------
    Arrhenius: ln Q10 = (Ea/R)·10/(T1·T2); 2.6 gives 61.4 kJ/mol, 3 gives 70.6.
    """
    factor = float(within("Q10", q10_factor, np.nextafter(1.0, 2.0), 100.0))
    low_k = float(within("temperature", low_c, -40.0, 60.0, "°C")) + _KELVIN
    return _GAS * float(np.log(factor)) * low_k * (low_k + 10.0) / 10.0


def mean_kinetic_c(
    temperature_c: Figures, weight: Figures = 1.0, ratio_k: float = 10_000.0
) -> float:
    """Return the mean kinetic temperature. [°C]

    A long window hides an excursion: never let it excuse one.

    Parameters
    ----------
    temperature_c : ndarray, shape (n,), n over zero
        -40 to 60. [°C]
    weight : float or ndarray
        Time at each, over zero; equal by default.
    ratio_k : float
        Activation energy over the gas constant; 10 000 by USP, over zero. [K]

    Raises
    ------
    OutOfRangeError
        If a figure lies outside, or there is none.

    References
    ----------
    USP <1160>; Haynes 1971.
    """
    t_c = np.atleast_1d(within("temperature", temperature_c, -40.0, 60.0, "°C"))
    positive("the number of temperatures", t_c.size)
    positive("activation energy over gas constant", ratio_k, "K")
    weights = within("weight", weight, np.nextafter(0.0, 1.0), np.inf)
    weights = np.broadcast_to(weights, t_c.shape)
    mean = float(np.average(np.exp(-ratio_k / (t_c + _KELVIN)), weights=weights))
    return ratio_k / -float(np.log(mean)) - _KELVIN
