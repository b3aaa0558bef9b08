"""Lag, warm-up, cooling cycle, exposure, thermal time and ageing against published figures."""

from typing import Final

import numpy as np
from scipy import integrate, signal

from monitor.model.band import Side
from monitor.science import (
    cycle,
    exposure,
    lag,
    storage_life,
    thermal_time,
    warm_up,
)
from monitor.science.checking import Floats
from monitor.science.series import Samples
from monitor.science.storage_life import Q10
from tests.outside.checking import SHARED, Check, apart, column, rows
from tests.science.cooler import Cooler

_MINUTE_MS: Final = 60_000
_ROSE: Final = storage_life.q10_of("rose")


def wavering(count: int, seed: int, step_s: float = 60.0) -> Samples:
    """Return a wandering temperature with irregular steps and gaps."""
    dice = np.random.default_rng(seed)
    steps_ms = np.round(dice.uniform(0.3, 1.7, count) * step_s * 1000.0).astype(np.int64)
    steps_ms[dice.integers(0, count, count // 100)] += 3_600_000
    value = 4.0 + 3.0 * np.sin(np.arange(count) / 40.0) + dice.normal(0.0, 0.8, count)
    return Samples(np.cumsum(steps_ms), value, 3.0 * step_s)


def _held() -> float:
    ours = lag.held_step_c(2.0, 10.0, np.array([60.0, 300.0, 900.0, 3600.0]), 900.0)
    return apart(ours, [2.515944, 4.267750, 7.056964, 9.853475])


def _lag_csv() -> float:
    table = rows("science/lag.csv")
    step_s, tau_s = column(table, "dt_min") * 60.0, column(table, "tau_min") * 60.0
    held = [float(lag.held_step_c(2.0, 10.0, s, t)) for s, t in zip(step_s, tau_s, strict=True)]
    straight = [
        float(lag.linear_step_c(2.0, 2.0, 10.0, s, t)) for s, t in zip(step_s, tau_s, strict=True)
    ]
    return max(
        apart(held, column(table, "Tp_after_step_2to10_C")),
        apart(straight, column(table, "Tp_after_linear_ramp_2to10_in_dt_C")),
    )


def _cooling_shares() -> float:
    ours = [lag.time_to_share_s(0.5, 1.0), lag.time_to_share_s(0.875, 1.0)]
    return apart(ours, [0.693, 2.079])


def _lag_series() -> float:
    """Follow a measured-looking series by scipy's recursive filter, step by step."""
    at_ms = np.arange(2000, dtype=np.int64) * _MINUTE_MS
    air_c = wavering(2000, 5).value
    left = np.exp(-60.0 / 900.0)
    behind = np.diff(air_c) / 60.0 * 900.0
    gained = air_c[1:] - behind - (air_c[:-1] - behind) * left
    theirs, _ = signal.lfilter([1.0], [1.0, -left], gained, zi=[left * 3.0])
    ours = lag.follow(Samples(at_ms, air_c, 180.0), 900.0, start_c=3.0).value_c
    return apart(ours[1:], theirs)


def _lag_ode() -> float:
    air_c = wavering(60, 6).value
    at_s = np.arange(60) * 60.0
    solved = integrate.solve_ivp(
        lambda t, y: (np.interp(t, at_s, air_c) - y) / 900.0,
        (0.0, at_s[-1]), [3.0], t_eval=at_s, rtol=1e-9, atol=1e-9, max_step=5.0,
    )  # fmt: skip
    samples = Samples((at_s * 1000).astype(np.int64), air_c, 180.0)
    return apart(lag.follow(samples, 900.0, start_c=3.0).value_c, solved.y[0])


def _time_to_limit() -> float:
    return apart(float(warm_up.time_to_limit_s(2.0, 8.0, 22.0, 9000.0)) / 60.0, 53.50)


def _contents_ode() -> float:
    fits = warm_up.Fits(np.array([2.0]), np.array([22.0]), np.array([9000.0]), np.array([1.0]))
    at_s = np.linspace(0.0, 20_000.0, 50)
    solved = integrate.solve_ivp(
        lambda t, y: (22.0 - 20.0 * np.exp(-t / 9000.0) - y) / 5400.0,
        (0.0, 20_000.0), [3.0], t_eval=at_s, rtol=1e-10, atol=1e-10,
    )  # fmt: skip
    ours = [float(warm_up.contents_c(fits, 3.0, 5400.0, s)[0]) for s in at_s]
    return apart(ours, solved.y[0])


def _plain_rows(name: str) -> list[list[str]]:
    """Return the rows of a table whose column names repeat."""
    return [line.split(",") for line in (SHARED / name).read_text().splitlines()[1:]]


def _warm_up_spread() -> float:
    """Repeat the published simulation and compare the 5, 50 and 95 % points of the answers."""
    worst = 0.0
    for row in _plain_rows("science/warmup_mc.csv"):
        count, noise_k = int(row[0]), float(row[1])
        if count > 30:  # later runs have passed the limit
            continue
        answers = simulated_answers(count, noise_k, 400)[:, 1]
        wanted = [float(text) for text in row[6:9]]  # room known to 2 K: 5, 50, 95 %
        worst = max(worst, apart(np.percentile(answers, [5, 50, 95]), wanted))
    return worst


def simulated_answers(minutes: int, noise_k: float, count: int) -> Floats:
    """Return (early, middle, late) minutes to 8 °C of simulated failures, shape (count, 3).

    True time constant 150 min, room 22 °C known to 2 K, start 2 °C, limit at 53.50 min.
    """
    dice = np.random.default_rng(minutes)
    at_min = np.arange(minutes + 1)
    found = []
    for _ in range(count):
        air_c = 22.0 - 20.0 * np.exp(-at_min / 150.0) + dice.normal(0.0, noise_k, minutes + 1)
        samples = Samples(at_min.astype(np.int64) * _MINUTE_MS, air_c, 180.0)
        fits = warm_up.fit(samples, 22.0 + float(dice.normal(0.0, 2.0)), noise_k)
        reach = warm_up.air_reaches(fits, 8.0)
        found.append([reach.early_s, reach.middle_s, reach.late_s])
    return np.asarray(found) / 60.0 + minutes


def _thermostat() -> float:
    """Read period and running share back from a simulated thermostat, in shares of itself."""
    worst = 0.0
    for row in rows("science/thermostat.csv")[:3]:
        if float(row["tau_min"]) != 150.0:
            continue
        cooler = Cooler(
            room_c=float(row["T_amb"]), cold_c=float(row["T_cold_asymptote"]), noise_k=0.0
        )
        air = cooler.run(2.0)
        whole = cycle.cycles(air, cycle.turns(air))
        period = float(row["t_off_min"]) + float(row["t_on_min"])
        worst = max(
            worst,
            apart(np.mean(whole.period_s) / 60.0 / period, 1.0),
            apart(np.mean(whole.running_share) / float(row["duty"]), 1.0),
        )
    return 100.0 * worst


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
    Check("lag, held input", "exact solution, step 2 to 10 °C", "K", 1e-6, _held),
    Check(
        "lag, held and linear input",
        "exact solution, table",
        "K",
        1e-5,
        _lag_csv,
        "science/lag.csv",
    ),
    Check(
        "lag, half and 7/8 cooling", "0.693 and 2.079 time constants", "tau", 0.001, _cooling_shares
    ),
    Check("lag, 2000 readings", "scipy.signal.lfilter, live", "K", 1e-9, _lag_series),
    Check("lag, an hour of readings", "scipy.integrate.solve_ivp, live", "K", 1e-5, _lag_ode),
    Check("warm-up, time to limit", "Newton's law, to 2 places", "min", 0.005, _time_to_limit),
    Check(
        "warm-up, contents behind air", "scipy.integrate.solve_ivp, live", "K", 1e-6, _contents_ode
    ),
    Check(
        "warm-up, spread of answers at 10-30 min",
        "simulated failures, room known to 2 K",
        "min",
        1.0,
        _warm_up_spread,
        "science/warmup_mc.csv",
    ),
    Check(
        "cooling cycle, period and running share",
        "thermostat formula, read once a minute",
        "%",
        3.0,
        _thermostat,
        "science/thermostat.csv",
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
