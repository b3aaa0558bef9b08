"""The cooling cycle, its events and its trend, from air temperature alone."""

import numpy as np
import pytest

from monitor.errors import OutOfRangeError
from monitor.science import cooler_events, cycle
from monitor.science.cooler_events import EventKind
from monitor.science.running_trend import daily_running_share, running_trend
from monitor.science.series import Samples
from tests.science.cooler import Cooler


def _cycles(air: Samples) -> tuple[cycle.Cycles, cycle.Usual]:
    whole = cycle.cycles(air, cycle.turns(air))
    normal = cycle.usual(whole)
    assert normal is not None
    return whole, normal


def test_noise_smaller_than_the_least_swing_turns_nothing() -> None:
    """A steady room with a noisy sensor has no cycle."""
    noise = np.random.default_rng(1).normal(3.0, 0.05, 2000)
    steady = Samples(np.arange(2000, dtype=np.int64) * 60_000, noise, 180.0)
    assert len(cycle.turns(steady).sample) == 0
    assert cycle.usual(cycle.cycles(steady, cycle.turns(steady))) is None


def test_the_first_reading_is_no_turn() -> None:
    """Readings that begin on the way up begin no cycle: the turn before was not seen."""
    air = Cooler(noise_k=0.0).run(0.5)
    values = air.value[2:]
    begun = Samples(air.at_ms[2:], values, 180.0)
    whole = cycle.cycles(begun, cycle.turns(begun))
    assert int(whole.from_ms[0]) > int(begun.at_ms[0])


def test_a_door_opened_every_morning_is_a_door() -> None:
    """People keep hours too: a steep climb at the same hour each day is no defrost."""
    air = Cooler(doors_min=tuple(420 + 1440 * day for day in range(5))).run(5.0)
    whole, normal = _cycles(air)
    found = cooler_events.events(air, whole, normal)
    assert [event.kind for event in found] == [EventKind.DOOR] * 5
    assert all(event.on_timer for event in found)


def test_a_cycle_cut_by_a_gap_is_left_out() -> None:
    """What the gap hid may have been a turn: only whole cycles count."""
    air = Cooler().run(1.0)
    keep = (air.at_ms < 30_000_000) | (air.at_ms > 40_000_000)
    cut = Samples(air.at_ms[keep], air.value[keep], 180.0)
    whole = cycle.cycles(cut, cycle.turns(cut))
    assert (whole.period_s < 4000.0).all()
    assert not ((whole.from_ms < 30_000_000) & (whole.until_ms > 40_000_000)).any()


def test_defrosts_and_doors_are_told_apart() -> None:
    """A timer's defrosts and single steep door openings are each called by name."""
    doors = (200, 610, 1500, 2222, 3100, 4800)
    air = Cooler(defrosts_h=(5.0, 11.0, 17.0, 23.0), doors_min=doors).run(5.0)
    whole, normal = _cycles(air)
    found = cooler_events.events(air, whole, normal)
    seen = [event.peak_ms // 60_000 for event in found if event.kind is EventKind.DOOR]
    assert len(seen) == len(doors)
    assert all(abs(at - door) < 15 for at, door in zip(seen, doors, strict=True))
    defrosts = [event for event in found if event.kind is EventKind.DEFROST]
    assert len(defrosts) == 5 * 4 - 1  # the last night's is cut by the end
    assert all(event.on_timer for event in defrosts)


def test_events_do_not_bend_what_is_usual() -> None:
    """Period and peaks stay those of the plain thermostat beside defrosts and doors."""
    _, plain = _cycles(Cooler().run(3.0))
    _, busy = _cycles(Cooler(defrosts_h=(5.0, 17.0), doors_min=(300, 700, 2000)).run(3.0))
    assert busy.high_c == pytest.approx(plain.high_c, abs=0.1)
    assert busy.period_s == pytest.approx(plain.period_s, rel=0.03)


def test_recovery_is_told_from_the_peak_on() -> None:
    """After a door the air is back at the usual peak within the hour."""
    air = Cooler(doors_min=(610,)).run(2.0)
    whole, normal = _cycles(air)
    found = cooler_events.events(air, whole, normal)
    waits = cooler_events.recovery_s(found, normal, air)
    assert len(found) == 1
    assert 300.0 < float(waits[0]) < 3600.0


def test_pull_down_slows_in_a_warmer_room() -> None:
    """The same machine pulls the air down slower against a warmer outside."""
    cool, _ = _cycles(Cooler(cold_c=-8.0).run(1.0))
    weak, _ = _cycles(Cooler(cold_c=-4.0).run(1.0))
    assert np.median(cycle.pull_down_k_h(weak)) < 0.7 * np.median(cycle.pull_down_k_h(cool))


def test_a_failing_machine_shows_through_the_weather() -> None:
    """A running share that creeps up is found beside a room that swings."""
    dice = np.random.default_rng(4)
    day = np.arange(40.0)
    room = 20.0 + 5.0 * np.sin(day / 5.0)
    steady = 0.5 + 0.02 * (room - 20.0) + dice.normal(0.0, 0.01, 40)
    found = running_trend(day, steady + 0.003 * day, room)
    assert found is not None
    assert found.per_day == pytest.approx(0.003, abs=3 * found.error_per_day)
    assert found.per_room_k == pytest.approx(0.02, abs=0.003)
    assert found.chance_rising > 0.99
    level = running_trend(day, steady, room)
    assert level is not None
    assert abs(level.per_day) < 3 * level.error_per_day


def test_a_trend_needs_days() -> None:
    """Under ten days nothing is said; unequal columns and shares over one are errors."""
    assert running_trend(np.arange(9.0), np.full(9, 0.5)) is None
    with pytest.raises(OutOfRangeError, match="each day"):
        running_trend(np.arange(12.0), np.full(11, 0.5))
    with pytest.raises(OutOfRangeError, match="running share"):
        running_trend(np.arange(12.0), np.full(12, 1.5))


def test_no_readings_have_no_cycle() -> None:
    """Empty and single readings give empty answers."""
    for count in (0, 1, 2):
        few = Samples(np.arange(count, dtype=np.int64) * 60_000, np.full(count, 2.0), 180.0)
        whole = cycle.cycles(few, cycle.turns(few))
        assert len(whole.from_ms) == 0
        assert cycle.usual(whole) is None
    with pytest.raises(OutOfRangeError, match="least swing"):
        cycle.turns(few, 0.0)


def test_a_days_share_leaves_defrosts_and_doors_out() -> None:
    """The daily median is that of the plain thermostat; a day hardly read has none."""
    air = Cooler(defrosts_h=(5.0, 17.0), doors_min=(300, 700)).run(2.05)
    whole, normal = _cycles(air)
    midnights = np.array([0, 86_400_000, 172_800_000, 259_200_000], dtype=np.int64)
    shares = daily_running_share(whole, ~cooler_events.lifted(whole, normal), midnights)
    # 30.1 min of falling in 45.1 min: the thermostat formula
    assert shares[:2].tolist() == pytest.approx([0.667, 0.667], abs=0.02)
    assert np.isnan(shares[2])
    every = daily_running_share(whole, np.ones(len(whole.from_ms), dtype=np.bool_), midnights)
    none = daily_running_share(whole, np.zeros(len(whole.from_ms), dtype=np.bool_), midnights)
    assert np.isfinite(every[:2]).all()
    assert np.isnan(none).all()
