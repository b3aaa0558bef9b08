"""``cormwatch place list`` tells what is known now from what was known last."""

import pytest

from monitor import watch
from monitor.cli.place_ import say_place
from tests.watch.made import MINUTE_MS, NORTH, START_MS, farm, pack


def _said(after_ms: int) -> str:
    state = watch.begin(watch.plan(farm(), []), START_MS)
    state = watch.step(state, pack(NORTH, [0.0, 1.0, 2.0, 3.0, 4.0], [3.0] * 5)).state
    now_ms = START_MS + 4 * MINUTE_MS + after_ms
    return say_place(farm(), watch.place_status(state, "cooler", now_ms), now_ms)


def test_an_old_value_is_told_as_the_last_one() -> None:
    """Where nothing is known, the last value is called that, with the time it is of."""
    said = _said(17 * MINUTE_MS)
    assert "not known for" in said
    assert "; last 37.4 °F, heard " in said


def test_a_value_of_now_is_told_plainly() -> None:
    """While the place is known its value stands alone."""
    assert _said(0).endswith("; 37.4 °F")


@pytest.mark.parametrize("before_ms", [1, 7_430_000])
def test_no_span_is_negative(before_ms: int) -> None:
    """A clock that was put back makes no span under zero."""
    assert "for -" not in _said(-before_ms)
