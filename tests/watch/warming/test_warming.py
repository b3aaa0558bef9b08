"""When a cooler's air rises for longer than it ever does."""

from itertools import pairwise

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.watch.events import Times, Values
from monitor.watch.warming import Warming, advance, newborn
from monitor.watch.warming.habits import LEAST_DAYS

_MINUTE_MS = 60_000
_DAY_MIN = 1440
_START_MS = 20_454 * 86_400_000


def _cycling(days: int) -> Values:
    """Return a made-up cooler: 2 to 4 °C twice an hour, and four defrosts a day to 8 °C."""
    minute = np.arange(days * _DAY_MIN)
    air = 3.0 + np.cos(minute / 30.0 * 2.0 * np.pi)
    since = (minute - 100) % 360
    lift = np.interp(since, [0, 20, 35, 360], [0.0, 5.0, 0.0, 0.0])
    noise = np.random.default_rng(1).normal(0.0, 0.05, minute.size)
    lifted: Values = np.where(since < 35, np.maximum(air, 3.0 + lift), air) + noise
    return lifted


def _dying(days: int, at_min: int) -> Values:
    """Return the same cooler whose air runs to 18 °C from a minute on."""
    air = _cycling(days)
    after = np.arange(air.size - at_min)
    air[at_min:] = 18.0 - (18.0 - air[at_min]) * np.exp(-after / 90.0)
    return air


def _times(air: Values) -> Times:
    return _START_MS + np.arange(air.size, dtype=np.int64) * _MINUTE_MS


def _state(warming: Warming) -> tuple[object, ...]:
    return (
        warming.habits, warming.day, warming.air_c.tolist(), warming.rises, warming.last_ms,
        warming.rising,
    )  # fmt: skip


def test_a_quiet_cooler_raises_nothing() -> None:
    """Cycles and defrosts at their hours raise nothing in three weeks."""
    air = _cycling(21)
    assert advance(newborn(), _times(air), air).edges_ms == ()


def test_a_dead_compressor_is_told_within_a_quarter_hour_off_its_defrosts() -> None:
    """Where no defrost is due, air that passes its level and goes on is told at once."""
    dead_min = 10 * _DAY_MIN + 200
    air = _dying(11, dead_min)
    seen = advance(newborn(), _times(air), air)
    after_min = (seen.edges_ms[0] - _START_MS) / _MINUTE_MS - dead_min
    assert len(seen.edges_ms) == 1
    assert 0 < after_min <= 25
    assert seen.warming.told is not None


def test_it_waits_for_a_defrost_that_is_due() -> None:
    """At the hour of a defrost, air may rise for as long as a defrost takes, and no longer."""
    air = _dying(11, 10 * _DAY_MIN + 100)
    seen = advance(newborn(), _times(air), air)
    after_min = (seen.edges_ms[0] - _START_MS) / _MINUTE_MS - 10 * _DAY_MIN - 100
    assert 15 < after_min <= 45


def test_a_new_cooler_is_still_learning() -> None:
    """Before it knows enough days, it tells nothing and says that it is learning."""
    air = _dying(LEAST_DAYS - 1, 2 * _DAY_MIN)
    seen = advance(newborn(), _times(air), air)
    assert seen.edges_ms == ()
    assert seen.warming.habits.learning


def test_it_is_over_when_a_reading_is_back_under_the_level() -> None:
    """A gap ends nothing that was told; a reading under the level does."""
    dead_min = 10 * _DAY_MIN + 200
    air = _dying(11, dead_min)[: dead_min + 120]
    told = advance(newborn(), _times(air), air).warming
    later_ms = _times(air)[-1:] + 5 * 3_600_000
    high = advance(told, later_ms, np.array([12.0]))
    assert high.warming.told is not None
    back = advance(high.warming, later_ms + _MINUTE_MS, np.array([2.0]))
    assert [each.back_ms for each in back.ended] == [int(later_ms[0]) + _MINUTE_MS]
    assert back.warming.told is None


def test_nothing_is_learned_from_what_comes_after() -> None:
    """What is told up to a moment does not depend on any reading after it."""
    dead_min = 9 * _DAY_MIN + 205
    air = _dying(11, dead_min)
    whole = advance(newborn(), _times(air), air)
    part = advance(newborn(), _times(air)[: dead_min + 60], air[: dead_min + 60])
    assert part.edges_ms == whole.edges_ms[: len(part.edges_ms)]
    assert part.edges_ms


@settings(max_examples=30)
@given(st.lists(st.integers(1, 10 * _DAY_MIN - 1), max_size=12), st.integers(0, 30))
def test_it_does_not_depend_on_the_packs(cuts: list[int], seed: int) -> None:
    """The same readings chopped into any packs leave the same state and tell the same."""
    air = _dying(10, 8 * _DAY_MIN + 37 * seed)
    air = air + np.random.default_rng(seed).normal(0.0, 0.1, air.size)
    times = _times(air)
    whole = advance(newborn(), times, air)
    now = newborn()
    edges: list[int] = []
    for first, last in pairwise(sorted({0, *cuts, air.size})):
        seen = advance(now, times[first:last], air[first:last])
        now = seen.warming
        edges += seen.edges_ms
    assert tuple(edges) == whole.edges_ms
    assert _state(now) == _state(whole.warming)


def test_a_dial_turned_up_is_told_once_and_a_later_death_again() -> None:
    """Air 2.5 K higher for good is given up after two days; a compressor's death is told anew."""
    air = _cycling(20)
    air[9 * _DAY_MIN :] += 2.5
    dead_min = 17 * _DAY_MIN + 200
    after = np.arange(air.size - dead_min)
    air[dead_min:] = 18.0 - (18.0 - air[dead_min]) * np.exp(-after / 90.0)
    seen = advance(newborn(), _times(air), air)
    late = [each for each in seen.edges_ms if each >= _START_MS + dead_min * _MINUTE_MS]
    assert any(each.rising.raised_ms < _START_MS + 10 * _DAY_MIN * _MINUTE_MS
               for each in seen.ended if each.rising.raised_ms is not None)  # fmt: skip
    assert late
    assert late[0] - _START_MS < (dead_min + 30) * _MINUTE_MS


def test_a_probe_of_whole_degrees_one_count_up_is_no_sign() -> None:
    """A thermometer that reads whole degrees F and stands a count higher for hours is quiet."""
    whole_f = np.full(14 * _DAY_MIN, 36.0)
    whole_f[::7] = 37.0
    whole_f[10 * _DAY_MIN : 10 * _DAY_MIN + 300] = 37.0
    air = (whole_f - 32.0) / 1.8
    assert advance(newborn(), _times(air), air).edges_ms == ()


def test_what_was_told_today_and_is_over_is_not_told_again() -> None:
    """Five alike warm spells on one day, off the cooler's hours, wake once."""
    air = _cycling(12)
    for hour in (9, 11, 15, 17, 21):
        first = 11 * _DAY_MIN + hour * 60
        air[first : first + 24] = np.maximum(air[first : first + 24], np.linspace(4.0, 9.0, 24))
        air[first + 24 : first + 34] = np.linspace(9.0, 3.0, 10)
    seen = advance(newborn(), _times(air), air)
    assert len(seen.ended) == 1
