"""Receipt times that strictly increase."""

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from monitor.intake import Stamper
from monitor.model import Channel, Flag, Quantity, Reading
from tests.intake.made import NOW_MS

AIR = Channel("x", Quantity.TEMPERATURE)
DAMP = Channel("x", Quantity.HUMIDITY)


def _reading(at_ms: int, channel: Channel = AIR, flags: Flag = Flag.NONE) -> Reading:
    return Reading(channel, at_ms, 4.1, flags, at_ms)


def test_a_burst_within_one_millisecond_keeps_every_reading() -> None:
    """Two thousand readings of one channel in one millisecond get two thousand times."""
    stamped = Stamper().stamp([_reading(NOW_MS)] * 2000)
    assert [reading.at_ms for reading in stamped] == [NOW_MS + step for step in range(2000)]


def test_a_burst_that_runs_ahead_of_the_clock_is_no_step() -> None:
    """Twenty thousand queued readings in two seconds leave no two at one time and no mark."""
    burst = [_reading(NOW_MS + index // 10) for index in range(20_000)]
    stamped = Stamper().stamp([*burst, _reading(NOW_MS + 2001)])
    assert len({reading.at_ms for reading in stamped}) == 20_001
    assert {reading.flags for reading in stamped} == {Flag.NONE}


def test_channels_do_not_push_each_other() -> None:
    """Each channel has its own times."""
    stamped = Stamper().stamp([_reading(NOW_MS), _reading(NOW_MS, DAMP)])
    assert [reading.at_ms for reading in stamped] == [NOW_MS, NOW_MS]


def test_a_devices_own_time_is_left_alone() -> None:
    """A repeat with its own time keeps it, so that the store keeps one."""
    twice = [_reading(NOW_MS, flags=Flag.DEVICE_TIME)] * 2
    assert Stamper().stamp(twice) == twice


def test_stored_times_are_never_met_again() -> None:
    """After a restart the first reading comes later than the newest stored."""
    (reading,) = Stamper({AIR: NOW_MS}).stamp([_reading(NOW_MS - 1000)])
    assert (reading.at_ms, reading.flags) == (NOW_MS + 1, Flag.NONE)


def test_a_clock_that_stepped_back_is_marked_and_not_dragged_along() -> None:
    """Readings received under a clock that is behind keep its time and say so."""
    stamper = Stamper({AIR: NOW_MS})
    past = NOW_MS - 13 * 86_400_000
    early = stamper.stamp([_reading(past), _reading(past)])
    assert [reading.at_ms for reading in early] == [past, past + 1]
    assert {reading.flags for reading in early} == {Flag.CLOCK_UNSURE}
    (late,) = stamper.stamp([_reading(NOW_MS + 1000)])
    assert (late.at_ms, late.flags) == (NOW_MS + 1000, Flag.NONE)


def test_a_clock_set_right_is_trusted_again() -> None:
    """Once told that the clock is right, earlier times mark nothing."""
    stamper = Stamper({AIR: NOW_MS + 86_400_000})
    stamper.trust_clock()
    (reading,) = stamper.stamp([_reading(NOW_MS)])
    assert (reading.at_ms, reading.flags) == (NOW_MS, Flag.NONE)


@given(st.lists(st.integers(-2000, 2500), min_size=1))
def test_times_strictly_increase_whatever_the_order(offsets_ms: list[int]) -> None:
    """Within the clock's small wanderings every stamped time is later than the last."""
    stamped = Stamper().stamp([_reading(NOW_MS + offset) for offset in offsets_ms])
    times = [reading.at_ms for reading in stamped]
    assert all(later > earlier for earlier, later in pairwise(times))
