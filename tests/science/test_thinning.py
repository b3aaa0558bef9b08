"""Fewer samples that tell the same: within the tolerance, extremes and gaps exact."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.science.series import Samples, extremes, mean
from monitor.science.thinning import HOUR_MS, thin

GAP_S = 180.0


def _made(seed: int, n: int) -> tuple[np.ndarray, np.ndarray]:
    dice = np.random.default_rng(seed)
    steps = dice.choice([20_000, 60_000, 60_000, 60_000, 1_500_000], n)
    return np.cumsum(steps), np.round(np.cumsum(dice.normal(0, 0.15, n)), 2)


@settings(max_examples=60)
@given(st.integers(0, 10_000), st.integers(1, 400), st.sampled_from([0.0, 0.2, 2.0]))
def test_no_moment_is_off_by_more_than_the_tolerance(seed: int, n: int, tolerance: float) -> None:
    """Every sample lies that near the straight line; none that stays is moved."""
    at_ms, value = _made(seed, n)
    stays, joined = thin(at_ms, value, tolerance, GAP_S)
    assert not (joined & ~stays).any()
    off = np.abs(np.interp(at_ms, at_ms[stays], value[stays]) - value)
    assert off.max() <= tolerance
    for hour in np.unique(at_ms // HOUR_MS):
        inside = at_ms // HOUR_MS == hour
        assert value[inside & stays].min() == value[inside].min()
        assert value[inside & stays].max() == value[inside].max()


@given(st.integers(0, 10_000))
def test_what_was_not_known_stays_unknown(seed: int) -> None:
    """Both sides of a gap stay, and nothing is said to have been between them."""
    at_ms, value = _made(seed, 300)
    stays, joined = thin(at_ms, value, 0.2, GAP_S)
    gaps = np.flatnonzero(np.diff(at_ms) > GAP_S * 1000)
    assert stays[gaps].all()
    assert stays[gaps + 1].all()
    assert not joined[gaps].any()


def test_a_cooler_cycle_loses_most_rows_and_no_extreme() -> None:
    """A quarter-hour cycle of 1.5 °C read each minute to a hundredth: at most a fifth stays."""
    at_ms = np.arange(0, 24 * HOUR_MS, 60_000)
    value = np.round(3 + 0.75 * np.sin(at_ms / (15 * 60_000) * 2 * np.pi / 2), 2)
    stays, _ = thin(at_ms, value, 0.2, GAP_S)
    assert stays.mean() < 0.2
    whole, few = Samples(at_ms, value, GAP_S), Samples(at_ms[stays], value[stays], 3_600.0)
    one, other = extremes(whole), extremes(few)
    assert one is not None
    assert other is not None
    assert (one.low, one.high) == (other.low, other.high)
    assert mean(few) == pytest.approx(mean(whole), abs=0.1)


def test_a_door_is_told_to_the_reading() -> None:
    """With no tolerance only repeats between two of the same go."""
    value = np.array([0.0] * 20 + [1.0] * 3 + [0.0] * 20)
    at_ms = np.arange(len(value)) * 60_000
    stays, _ = thin(at_ms, value, 0.0, GAP_S)
    assert stays.sum() == 6
    assert np.array_equal(np.interp(at_ms, at_ms[stays], value[stays]), value)
