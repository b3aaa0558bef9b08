"""The dice are seeded, and wandering is a function of time alone."""

import numpy as np

from simulator.dice import dice, wander

AT_MS = np.arange(0, 40 * 86_400_000, 3_600_000, dtype=np.int64)


def test_the_same_seed_and_name_throw_the_same() -> None:
    """Two dice of one seed and name give the same numbers, another name gives others."""
    first = dice(7, "door", 3).random(5)
    assert (first == dice(7, "door", 3).random(5)).all()
    assert (first != dice(7, "door", 4).random(5)).all()


def test_wandering_does_not_depend_on_how_time_is_asked_for() -> None:
    """A wander asked for in two halves equals the whole."""
    whole = wander(3, "cloud", AT_MS, 20_000.0)
    halves = [wander(3, "cloud", part, 20_000.0) for part in (AT_MS[:431], AT_MS[431:])]
    assert (np.concatenate(halves) == whole).all()


def test_wandering_keeps_about_unit_spread() -> None:
    """Over many knots the mean is near 0 and the spread near 1 (five standard errors)."""
    long_ms = np.arange(0, 4_000 * 3_600_000, 1_800_000, dtype=np.int64)
    values = wander(11, "wind", long_ms, 3_600.0)
    assert abs(values.mean()) < 5.0 / np.sqrt(4_000)
    assert abs(values.std() - 1.0) < 5.0 / np.sqrt(2 * 4_000)


def test_wandering_takes_times_before_1970() -> None:
    """Negative times have weather too."""
    assert np.isfinite(wander(3, "cloud", -AT_MS[::-1], 20_000.0)).all()
