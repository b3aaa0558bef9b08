"""Fourteen days of one-minute readings, two channels, beside a plain Python loop.

Run as ``python -m tests.benchmarks.bench_science``. Both sides do the same work: time
over and under limits with degree-hours and longest runs, contents behind the air, dew
points, thermal time and ageing. The loop is what one would write first.
"""

import itertools
import math
import os
import platform
import sys
import time
from collections.abc import Callable
from typing import Final

import numpy as np

from monitor.model.band import Side
from monitor.science import exposure, lag, moist_air, storage_life, thermal_time
from monitor.science.series import Samples
from tests.benchmarks.table import Row

_COUNT: Final = 14 * 24 * 60
_TAU_S: Final = 3600.0
_GAP_S: Final = 180.0
_REACH_MS: Final = 100.0
_Q10: Final = storage_life.q10_of("rose")


def _history() -> tuple[Samples, Samples]:
    """Return air [°C] and humidity [%] with noise and a few gaps."""
    dice = np.random.default_rng(7)
    at_ms = np.arange(_COUNT, dtype=np.int64) * 60_000
    at_ms[_COUNT // 2 :] += 3_600_000
    air_c = 4.0 + 1.5 * np.sin(np.arange(_COUNT) / 7.0) + dice.normal(0.0, 0.2, _COUNT)
    humid = np.clip(88.0 + 8.0 * np.sin(np.arange(_COUNT) / 50.0), 5.0, 100.0)
    return Samples(at_ms, air_c, _GAP_S), Samples(at_ms, humid, _GAP_S)


def vectorised(air: Samples, humid: Samples) -> list[float]:
    """Return the figures by this program's functions."""
    runs = [
        exposure.excursions(air, Side.HIGH, 5.0), exposure.excursions(air, Side.LOW, 2.0),
        exposure.excursions(humid, Side.HIGH, 95.0), exposure.excursions(humid, Side.LOW, 80.0),
    ]  # fmt: skip
    contents = lag.follow(air, _TAU_S)
    stems = Samples(air.at_ms, contents.value_c, _GAP_S)
    dew_c = moist_air.dew_point_c(moist_air.vapour_pressure_pa(air.value, humid.value))
    return [
        *(float(run.duration_s.sum()) for run in runs),
        *(float(run.degree_hours.sum()) for run in runs),
        *(run.longest_s for run in runs),
        exposure.mean(air) or 0.0, exposure.coverage(air, 0, int(air.at_ms[-1])),
        float(contents.value_c.max()), float(dew_c.mean()),
        thermal_time.from_readings(air, 4.5).degree_days,
        storage_life.aged(stems, _Q10).equivalent_days,
    ]  # fmt: skip


def _loop_runs(samples: Samples, side: Side, limit: float) -> tuple[float, float, float]:
    """Return time outside [s], degree-hours and longest run [s], step by step."""
    sign = 1.0 if side is Side.HIGH else -1.0
    at, values = samples.at_ms.tolist(), samples.value.tolist()
    total = area = longest = run = 0.0
    for k in range(1, len(at)):
        step = (at[k] - at[k - 1]) / 1000.0
        a, b = sign * (values[k - 1] - limit), sign * (values[k] - limit)
        if step > samples.allowed_gap_s:
            run = 0.0
            continue
        if a >= 0.0 and b >= 0.0:
            part, grew = step, (a + b) / 2.0 * step
        elif a < 0.0 and b < 0.0:
            part = grew = 0.0
        else:
            top = max(a, b)
            part = step * top / abs(b - a)
            grew = top * part / 2.0
        run = part if a < 0.0 else run + part
        longest = max(longest, run)
        if b < 0.0:
            run = 0.0
        total += part
        area += grew
    return total, area / 3600.0, longest


def _loop_contents(air: Samples) -> list[float]:
    at, values = air.at_ms.tolist(), air.value.tolist()
    out = [values[0]]
    for k in range(1, len(at)):
        step = (at[k] - at[k - 1]) / 1000.0
        if step > _GAP_S:
            out.append(values[k])
            continue
        behind = (values[k] - values[k - 1]) / step * _TAU_S
        left = math.exp(-step / _TAU_S)
        out.append(values[k] - behind + (out[-1] - values[k - 1] + behind) * left)
    return out


def _ln_water(kelvin: float) -> float:
    return (
        -5800.2206 / kelvin + 1.3914993 - 0.048640239 * kelvin + 4.1764768e-5 * kelvin**2
        - 1.4452093e-8 * kelvin**3 + 6.5459673 * math.log(kelvin)
    )  # fmt: skip


def _loop_dew_c(air_c: float, humidity_pct: float) -> float:
    """Return the dew point by bisection."""
    wanted = _ln_water(air_c + 273.15) + math.log(humidity_pct / 100.0)
    low, high = air_c - 60.0, air_c
    for _ in range(40):
        middle = (low + high) / 2.0
        low, high = (middle, high) if _ln_water(middle + 273.15) < wanted else (low, middle)
    return (low + high) / 2.0


def _loop_aged_days(air: Samples, contents: list[float]) -> float:
    at, days = air.at_ms.tolist(), 0.0
    for k in range(1, len(at)):
        step = (at[k] - at[k - 1]) / 1000.0
        if step <= _GAP_S:
            a, b = 3.0 ** (contents[k - 1] / 10.0), 3.0 ** (contents[k] / 10.0)
            days += (a + b) / 2.0 * step / 86_400.0
    return days


def looped(air: Samples, humid: Samples) -> list[float]:
    """Return the same figures by plain loops."""
    runs = [
        _loop_runs(air, Side.HIGH, 5.0), _loop_runs(air, Side.LOW, 2.0),
        _loop_runs(humid, Side.HIGH, 95.0), _loop_runs(humid, Side.LOW, 80.0),
    ]  # fmt: skip
    at, values = air.at_ms.tolist(), air.value.tolist()
    steps = [(b - a) / 1000.0 for a, b in itertools.pairwise(at)]
    known = sum(step for step in steps if step <= _GAP_S)
    mean = sum(
        (values[k] + values[k + 1]) / 2.0 * step
        for k, step in enumerate(steps) if step <= _GAP_S
    ) / known  # fmt: skip
    contents = _loop_contents(air)
    dew = [_loop_dew_c(t, h) for t, h in zip(values, humid.value.tolist(), strict=True)]
    return [
        *(run[0] for run in runs), *(run[1] for run in runs), *(run[2] for run in runs),
        mean, known / ((at[-1] - at[0]) / 1000.0), max(contents), sum(dew) / len(dew),
        _loop_runs(air, Side.HIGH, 4.5)[1] / 24.0, _loop_aged_days(air, contents),
    ]  # fmt: skip


def _best_ms(work: Callable[[], object], rounds: int) -> float:
    best = math.inf
    for _ in range(rounds):
        began = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - began)
    return best * 1000.0


def measured(rounds: int) -> Row:
    """Return the row of the figures behind a batch's history."""
    air, humid = _history()
    fast = _best_ms(lambda: vectorised(air, humid), rounds)
    slow = _best_ms(lambda: looped(air, humid), 1)
    return Row(
        f"14 d, one-minute, two channels: {len(vectorised(air, humid))} exposure figures",
        f"<= {_REACH_MS:.0f} ms",
        f"{fast:.1f} ms (best of {rounds})",
        f"plain loop: {slow:,.0f} ms",
        fast <= _REACH_MS,
    )


def main() -> int:
    """Time both sides, check that they agree, print a table; return how the run ends."""
    air, humid = _history()
    ours, theirs = vectorised(air, humid), looped(air, humid)
    worst = max(abs(a - b) / max(1.0, abs(b)) for a, b in zip(ours, theirs, strict=True))
    fast = _best_ms(lambda: vectorised(air, humid), 20)
    slow = _best_ms(lambda: looped(air, humid), 2)
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}")
    print(f"14 days, one minute, two channels: {_COUNT} readings each, {len(ours)} figures")
    print(f"vectorised {fast:8.1f} ms   (reach: {_REACH_MS:.0f} ms)")
    print(f"plain loop {slow:8.1f} ms   {slow / fast:.0f} times as long")
    print(f"greatest disagreement {worst:.1e}")
    return 0 if fast <= _REACH_MS and worst < 1e-6 else 1


if __name__ == "__main__":
    sys.exit(main())
