"""A restart: replayed state equals uninterrupted state, and nothing is told twice."""

from itertools import chain

import numpy as np
import pytest

from monitor.model import AlarmKey, AlarmKind, Channel, Edge
from monitor.watch import (
    Samples,
    Tick,
    WatchState,
    begin,
    plan,
    settle,
    slices,
    stay_lines,
    step,
    unsettled,
)
from tests.watch.made import (
    HOUR_MS,
    MINUTE_MS,
    NORTH,
    SOUTH,
    START_MS,
    alarm_of,
    band,
    batch,
    cooler,
    each,
    farm,
    judged,
    pack,
    run,
)

PLAN = plan(farm(), [])
WARM = AlarmKey(AlarmKind.TOO_WARM, "cooler")


def _wave(channel: Channel, hours: int, peak: float) -> Samples:
    """Return minutes of a slow wave between 2 °C and a peak."""
    minutes = np.arange(hours * 60.0)
    values = 2.0 + (peak - 2.0) * (1 - np.cos(minutes / 60.0)) / 2
    return pack(channel, minutes.tolist(), values.tolist())


def _since(whole: Samples, since_ms: int) -> Samples:
    keep = whole.at_ms >= since_ms
    return Samples(
        whole.channel, whole.at_ms[keep], whole.value[keep], whole.flags[keep], whole.received_ms
    )


def _standing(state: WatchState, channel: Channel) -> list[tuple[object, object]]:
    return [(each.run, each.spell) for each in state.tracks[channel].standings]


def test_six_hours_are_enough_where_runs_begin_within_them() -> None:
    """After a replay of the last six hours each run stands as it did without a restart."""
    packs = {NORTH: _wave(NORTH, 30, 7.0), SOUTH: _wave(SOUTH, 30, 4.5)}
    whole, _ = run(begin(PLAN, START_MS), slices(packs, 600_000))
    since_ms = START_MS + 24 * HOUR_MS
    cut = {channel: _since(each, since_ms) for channel, each in packs.items()}
    again, _ = run(begin(PLAN, START_MS), slices(cut, 600_000))
    assert unsettled(again) == {}
    for channel in packs:
        assert _standing(again, channel) == _standing(whole, channel)


def test_a_run_without_its_beginning_is_named() -> None:
    """Where a run reaches back to the first replayed sample, more readings are asked for."""
    whole = pack(NORTH, list(range(600)), [3.0] * 60 + [4.5] * 540)
    state, _ = run(begin(PLAN, START_MS), [_since(whole, START_MS + 4 * HOUR_MS)])
    assert unsettled(state) == {NORTH: START_MS + 4 * HOUR_MS}
    longer, _ = run(begin(PLAN, START_MS), [whole])
    assert unsettled(longer) == {}


def test_an_open_alarm_goes_on_after_a_restart() -> None:
    """An alarm open in the ledger is not raised again, and returns when readings say so."""
    minutes = [float(m) for m in range(45)]
    whole, told = run(begin(PLAN, START_MS), each(NORTH, minutes, [7.0] * 45))
    row = alarm_of(told[0])
    state = begin(PLAN, START_MS + 45 * MINUTE_MS, open_alarms=[row])
    state, _ = run(state, [pack(NORTH, minutes, [7.0] * 45)])
    assert judged(state) == judged(whole)
    settled = settle(state, [row], START_MS + 46 * MINUTE_MS)
    assert settled.transitions == ()
    _, told = run(settled.state, each(NORTH, [46.0, 47.0, 48.0, 49.0], [3.0] * 4))
    assert [t.edge for t in told] == [Edge.RETURN]
    assert told[0].peak == 7.0


def test_an_open_alarm_without_readings_stays() -> None:
    """No readings in the replay are no reason to end an alarm."""
    _, told = run(begin(PLAN, START_MS), each(NORTH, [float(m) for m in range(45)], [7.0] * 45))
    now_ms = START_MS + 20 * HOUR_MS
    state = begin(PLAN, now_ms, open_alarms=[alarm_of(told[0])])
    assert settle(state, [alarm_of(told[0])], now_ms).transitions == ()


def test_what_was_decided_before_a_kill_is_told_after_it() -> None:
    """Readings kept but not yet judged in the ledger raise their alarm on the restart."""
    state = begin(PLAN, START_MS + 45 * MINUTE_MS)
    state, _ = run(state, [pack(NORTH, list(range(45)), [7.0] * 45)])
    settled = settle(state, [], START_MS + 45 * MINUTE_MS)
    assert [(t.key, t.edge) for t in settled.transitions] == [(WARM, Edge.RAISE)]
    assert settle(settled.state, [alarm_of(settled.transitions[0])], START_MS).transitions == ()


def test_an_alarm_that_ended_before_the_kill_is_returned() -> None:
    """An alarm whose end was read but not written returns on the restart."""
    minutes = [float(m) for m in range(60)]
    values = [7.0] * 45 + [3.0] * 15
    _, told = run(begin(PLAN, START_MS), each(NORTH, minutes[:45], values[:45]))
    row = alarm_of(told[0])
    state = begin(PLAN, START_MS + HOUR_MS, open_alarms=[row])
    state, _ = run(state, [pack(NORTH, minutes, values)])
    settled = settle(state, [row], START_MS + HOUR_MS)
    assert [(t.key, t.edge) for t in settled.transitions] == [(WARM, Edge.RETURN)]


def test_a_silence_open_in_the_ledger_is_not_told_again() -> None:
    """A sensor silent before and after the restart has one alarm."""
    _, told = run(
        begin(PLAN, START_MS), [pack(NORTH, [0.0], [3.0]), Tick(START_MS + 10 * MINUTE_MS)]
    )
    row = alarm_of(told[0])
    now_ms = START_MS + HOUR_MS
    again = begin(PLAN, now_ms, heard={"north": START_MS}, open_alarms=[row])
    assert settle(again, [row], now_ms).transitions == ()
    assert step(again, Tick(now_ms + HOUR_MS)).transitions == ()


def test_time_outside_before_the_replay_counts_for_the_stay() -> None:
    """A bound on a whole stay goes on from the sum that the history gives."""
    place = cooler(bands={NORTH.quantity: band(high=12.0)})
    compiled = plan(farm([place]), [batch(14, "cut_stems", "cooler")])
    lines = [(channel, line) for channel, line in stay_lines(compiled) if channel == NORTH]
    assert [line.limit for _, line in lines] == [8.0]
    before = {(NORTH, lines[0][1].key): 7_200_000 - 300_000}
    state = begin(compiled, START_MS, outside_before=before)
    _, told = run(state, each(NORTH, [float(m) for m in range(8)], [9.0] * 8))
    assert [t.at_ms for t in told] == [START_MS + 5 * MINUTE_MS]


def test_slices_hold_every_reading_once_and_in_order() -> None:
    """Cutting series into slices of time loses and doubles nothing."""
    packs = {NORTH: _wave(NORTH, 5, 7.0), SOUTH: pack(SOUTH, [3.5, 299.0], [1.0, 2.0])}
    pieces = list(slices(packs, 17 * MINUTE_MS))
    for channel, whole in packs.items():
        mine = [piece.at_ms.tolist() for piece in pieces if piece.channel == channel]
        assert list(chain.from_iterable(mine)) == whole.at_ms.tolist()
    starts = [(int(piece.at_ms[0]) - START_MS) // (17 * MINUTE_MS) for piece in pieces]
    assert starts == sorted(starts)


@pytest.mark.parametrize("span_ms", [MINUTE_MS, 600_000, 3_600_000])
def test_the_span_of_slices_changes_no_state(span_ms: int) -> None:
    """However long the slices are, the channels end up alike."""
    packs = {NORTH: _wave(NORTH, 12, 7.0), SOUTH: _wave(SOUTH, 12, 6.0)}
    one, _ = run(begin(PLAN, START_MS), packs.values())
    cut, _ = run(begin(PLAN, START_MS), slices(packs, span_ms))
    assert judged(one) == judged(cut)
