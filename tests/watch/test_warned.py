"""A dying cooler through the whole step: raised early, once, and back by a reading."""

import numpy as np

from monitor.model import AlarmKind, Edge
from monitor.watch import Samples, begin, plan, settle
from monitor.watch.warming import advance, newborn
from tests.watch.made import HOUR_MS, MINUTE_MS, NORTH, alarm_of, cooler, farm, run
from tests.watch.warming.test_warming import _DAY_MIN, _START_MS, _dying, _times

_DEAD_MIN = 10 * _DAY_MIN + 200


def _packs(first: int, last: int, size: int) -> list[Samples]:
    air = _dying(11, _DEAD_MIN) - 0.6
    air[_DEAD_MIN + 300 :] = 2.4
    times = _times(air)
    ends = [(a, min(a + size, last)) for a in range(first, last, size)]
    return [
        Samples(NORTH, times[a:b], air[a:b], np.ones(b - a, np.int64), int(times[b - 1]))
        for a, b in ends
    ]


def test_a_dying_cooler_is_told_before_its_harm_limit_has_lasted() -> None:
    """The alarm goes up while the air rises, and returns when a reading is back."""
    calm = run(begin(plan(farm(), []), _START_MS), _packs(0, _DEAD_MIN, _DAY_MIN))[0]
    state, told = run(calm, _packs(_DEAD_MIN, _DEAD_MIN + 400, 1))
    mine = [each for each in told if each.key.kind is AlarmKind.TOO_WARM]
    assert [each.edge for each in mine] == [Edge.RAISE, Edge.RETURN]
    dead_ms = _START_MS + _DEAD_MIN * MINUTE_MS
    assert mine[0].facts["warming"]
    assert "contents_c" not in mine[0].facts  # nobody said how slowly they follow
    assert dead_ms < mine[0].at_ms < dead_ms + 30 * MINUTE_MS
    back_ms = dead_ms + 300 * MINUTE_MS
    assert back_ms <= mine[1].at_ms < back_ms + HOUR_MS
    assert state.told == {}


def test_a_restart_in_the_middle_tells_nothing_twice_and_goes_on() -> None:
    """With the habits read again, a warming that was told lasts, and returns by a reading."""
    compiled = plan(farm(), [])
    before = _packs(0, _DEAD_MIN + 60, _DAY_MIN // 4)
    state, told = run(begin(compiled, _START_MS), before)
    rows = [alarm_of(each) for each in told if each.edge is Edge.RAISE and each.key in state.told]
    assert [each.facts.get("warming") for each in rows] == [True]
    learned, since = newborn(), before[:-2]
    for pack in since:
        learned = advance(learned, pack.at_ms, pack.value).warming
    again = begin(compiled, state.now_ms, open_alarms=rows, warming={NORTH: learned})
    again, _ = run(again, before[-2:])
    settled = settle(again, rows, state.now_ms)
    assert settled.transitions == ()
    assert settled.state.told == state.told
    after = _packs(_DEAD_MIN + 60, _DEAD_MIN + 400, 1)
    assert run(settled.state, after)[1] == run(state, after)[1]


def test_flowers_that_follow_slowly_pass_the_band_after_the_air() -> None:
    """With a lag of two hours what is kept there is cooler than the air, and later past it."""
    slow = plan(farm([cooler(lag_s=7200.0)]), [])
    calm = run(begin(slow, _START_MS), _packs(0, _DEAD_MIN, _DAY_MIN))[0]
    told = run(calm, _packs(_DEAD_MIN, _DEAD_MIN + 100, 1))[1]
    raised = next(each for each in told if each.key.kind is AlarmKind.TOO_WARM)
    assert raised.value is not None
    assert raised.facts["contents_c"] < raised.value
    assert raised.facts["contents_past_from_ms"] > raised.at_ms
    air_ms = raised.facts.get("past_from_ms", raised.at_ms)
    assert raised.facts["contents_past_from_ms"] > air_ms
