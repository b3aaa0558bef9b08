"""What drifted, for the morning."""

import pytest

from monitor.model import Quantity, Side
from monitor.watch import Samples, drifts, plan
from tests.watch.made import HOUR_MS, NORTH, SOUTH, START_MS, farm, pack


def _drift(values: list[float]) -> Samples:
    return pack(NORTH, [float(m) for m in range(len(values))], values)


def test_tells_time_and_furthest_value() -> None:
    """Drift is told with its whole time past the ideal limit and the furthest value."""
    values = [3.0] * 60 + [4.5] * 60 + [3.0] * 60
    (drift,) = drifts(plan(farm(), []), {NORTH: _drift(values)}, START_MS, START_MS + 3 * HOUR_MS)
    assert (drift.place, drift.quantity, drift.side) == (
        "cooler", Quantity.TEMPERATURE, Side.HIGH,
    )  # fmt: skip
    # 59 whole minutes, and a third of the minute on either side of them
    assert drift.outside_s == pytest.approx((59 + 2 / 3) * 60)
    assert (drift.limit, drift.peak) == (4.0, 4.5)


def test_short_drift_is_not_worth_a_message() -> None:
    """Less than half an hour in all is left out."""
    values = [3.0] * 60 + [4.5] * 20 + [3.0] * 60
    assert drifts(plan(farm(), []), {NORTH: _drift(values)}, START_MS, START_MS + 3 * HOUR_MS) == ()


def test_only_the_period_counts() -> None:
    """What lies before the period is left out of it."""
    values = [4.5] * 120
    (drift,) = drifts(
        plan(farm(), []), {NORTH: _drift(values)}, START_MS + HOUR_MS, START_MS + 9 * HOUR_MS
    )
    assert drift.outside_s == 59 * 60


def test_of_two_sensors_the_worse_is_told() -> None:
    """A place's drift of one quantity is told once, by its worse channel."""
    south = pack(SOUTH, [float(m) for m in range(120)], [4.2] * 120)
    packs = {NORTH: _drift([4.5] * 60), SOUTH: south}
    (drift,) = drifts(plan(farm(), []), packs, START_MS, START_MS + 9 * HOUR_MS)
    assert drift.peak == 4.2
