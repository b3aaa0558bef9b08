"""Ageing of cut stems: integrated, never averaged, borrowed figures marked."""

import numpy as np
import pytest

from monitor.errors import OutOfRangeError
from monitor.science import storage_life
from monitor.science.series import Samples
from monitor.science.storage_life import BORROWED, Limit

HOUR_MS = 3_600_000


def _hours(values: list[float]) -> Samples:
    at_ms = np.arange(len(values), dtype=np.int64) * HOUR_MS
    return Samples(at_ms, np.array(values, dtype=np.float64), 7200.0)


def test_a_flower_without_its_own_q10_borrows_and_says_so() -> None:
    """Ranunculus has no Q10 of its own; snapdragon has, whatever its spelling."""
    borrowed = storage_life.q10_of("ranunculus")
    assert borrowed.borrowed
    assert BORROWED in borrowed.source
    assert not storage_life.q10_of(" Snapdragon ").borrowed


def test_a_day_at_the_reference_is_a_day() -> None:
    """At the reference temperature equivalent days are days; 10 K warmer three each."""
    rose = storage_life.q10_of("rose")
    assert storage_life.aged(_hours([4.0] * 25), rose, 4.0).equivalent_days == pytest.approx(1.0)
    warm = storage_life.aged(_hours([10.0] * 25), rose, 0.0)
    assert warm.equivalent_days == pytest.approx(3.0)


def test_a_warm_spell_counts_more_than_its_mean() -> None:
    """Half a day at 0 and half at 20 °C age more than a day at 10 °C."""
    rose = storage_life.q10_of("rose")
    mixed = storage_life.aged(_hours([0.0] * 13 + [20.0] * 12), rose).equivalent_days
    level = storage_life.aged(_hours([10.0] * 25), rose).equivalent_days
    assert mixed > 1.3 * level


def test_time_outside_the_model_is_told_and_not_counted() -> None:
    """Under -2 or over 40 °C nothing is known: the time is named, the figure a least one."""
    found = storage_life.aged(_hours([2.0] * 13 + [45.0] * 12), storage_life.q10_of("rose"))
    assert found.outside_s == 12 * 3600.0
    assert found.known_s == 24 * 3600.0
    assert np.isnan(storage_life.ageing_rate(45.0, storage_life.q10_of("rose")))
    assert storage_life.in_range(np.array([-3.0, -2.0, 40.0, 41.0])).tolist() == [
        False, True, True, False,
    ]  # fmt: skip
    told = storage_life.cooler_time(found, storage_life.q10_of("rose"), Limit(5.0, 0.0), 2.0)
    assert told.at_least


def test_a_gap_ages_nothing_and_is_not_known_time() -> None:
    """Unknown hours are missing from both figures."""
    at_ms = np.array([0, 1, 10, 11], dtype=np.int64) * HOUR_MS
    found = storage_life.aged(Samples(at_ms, np.full(4, 0.0), 7200.0), storage_life.q10_of("rose"))
    assert found.known_s == 7200.0
    assert found.equivalent_days == pytest.approx(2.0 / 24.0)


def test_cooler_time_left_depends_on_where_the_stems_stay() -> None:
    """Two of five days used leave three at the limit's temperature, fewer where it is warmer."""
    rose = storage_life.q10_of("rose")
    used = storage_life.aged(_hours([3.0] * 49), rose, 3.0)
    cold = storage_life.cooler_time(used, rose, Limit(5.0, 3.0), 3.0)
    assert cold.used_share == pytest.approx(0.4)
    assert cold.left_days == pytest.approx(3.0)
    assert not cold.at_least
    warm = storage_life.cooler_time(used, rose, Limit(5.0, 3.0), 13.0)
    assert warm.left_days < 1.1
    late = storage_life.cooler_time(used, rose, Limit(1.0, 3.0), 3.0)
    assert late.left_days == pytest.approx(-1.0)


def test_nothing_known_is_no_ageing_over_no_time() -> None:
    """Without readings both figures are nothing: coverage tells why."""
    assert storage_life.aged(_hours([]), storage_life.q10_of("rose")) == (0.0, 0.0, 0.0)


def test_bad_figures_are_refused() -> None:
    """References, limits, factors and temperatures out of range are errors."""
    rose = storage_life.q10_of("rose")
    with pytest.raises(OutOfRangeError, match="reference is 60"):
        storage_life.ageing_rate(5.0, rose, 60.0)
    with pytest.raises(OutOfRangeError, match="the longest time"):
        storage_life.cooler_time(storage_life.aged(_hours([]), rose), rose, Limit(0.0, 3.0), 3.0)
    with pytest.raises(OutOfRangeError, match="Q10 is 1"):
        storage_life.activation_energy_j_mol(1.0)
    with pytest.raises(OutOfRangeError, match="number of temperatures"):
        storage_life.mean_kinetic_c(np.array([]))
    with pytest.raises(OutOfRangeError, match="temperature is 99"):
        storage_life.mean_kinetic_c(99.0)
    with pytest.raises(OutOfRangeError, match="weight is 0"):
        storage_life.mean_kinetic_c(np.array([1.0, 2.0]), np.array([0.0, 1.0]))


def test_the_kinetic_mean_lies_over_the_plain_one() -> None:
    """Warm hours weigh more: it is never under the arithmetic mean."""
    dice = np.random.default_rng(1)
    for _ in range(20):
        some = dice.uniform(-5.0, 30.0, 10)
        assert storage_life.mean_kinetic_c(some) > float(some.mean())
