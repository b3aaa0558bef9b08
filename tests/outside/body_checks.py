"""Lag, warm-up and the cooling cycle against published figures."""

from typing import Final

import numpy as np
from scipy import integrate, signal

from monitor.science import (
    cycle,
    lag,
    storage_life,
    warm_up,
)
from monitor.science.checking import Floats
from monitor.science.series import Samples
from tests.outside.checking import SHARED, Check, apart, column, rows
from tests.outside.wavering import wavering
from tests.science.cooler import Cooler

_MINUTE_MS: Final = 60_000
_ROSE: Final = storage_life.q10_of("rose")


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
]
