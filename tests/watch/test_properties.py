"""What must hold for any readings, however they were packed."""

from collections.abc import Iterable
from itertools import pairwise
from random import Random

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.model import AlarmKind, Edge, Flag, Transition
from monitor.watch import Samples, Tick, begin, plan, settle, step
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
    farm,
    judged,
    run,
)
from tests.watch.plain_loop import PlainLimit

_STEPS = st.sampled_from([20_000, 60_000, 60_001, 179_999, 180_000, 180_001, 900_000])
_VALUES = st.sampled_from([-1.0, 0.5, 2.0, 3.99, 4.6, 4.7, 4.75, 5.0, 5.000001, 7.0, 9.0, 30.0])
_FLAGS = st.sampled_from([0, 1, 1, 1, 1, int(Flag.SUSPECT), int(Flag.TIME_UNCERTAIN), 64])
_SERIES = st.lists(st.tuples(_STEPS, _VALUES, _FLAGS), min_size=1, max_size=60)
_PLACE = cooler(bands={NORTH.quantity: band(tolerated_s=300.0, tolerated_low_s=60.0)})
_PLAN = plan(farm([_PLACE]), [batch(14, "cut_stems", "cooler")])


def _samples(series: list[tuple[int, float, int]]) -> Samples:
    at_ms = START_MS + np.cumsum([each[0] for each in series]).astype(np.int64)
    value = np.array([each[1] for each in series])
    return Samples(NORTH, at_ms, value, np.array([each[2] for each in series]), int(at_ms[-1]))


def _cut(whole: Samples, cuts: list[int]) -> list[Samples]:
    edges = sorted({0, len(whole.at_ms), *(cut % len(whole.at_ms) for cut in cuts)})
    return [
        Samples(
            whole.channel, whole.at_ms[a:b], whole.value[a:b], whole.flags[a:b],
            int(whole.at_ms[b - 1]),
        )
        for a, b in pairwise(edges)
    ]  # fmt: skip


@settings(max_examples=300)
@given(_SERIES, st.lists(st.integers(0, 100), max_size=8))
def test_the_state_does_not_depend_on_the_packs(
    series: list[tuple[int, float, int]], cuts: list[int]
) -> None:
    """The same readings chopped into any packs leave exactly the same state."""
    whole = _samples(series)
    at_once, _ = run(begin(_PLAN, START_MS), [whole])
    one_by_one, _ = run(begin(_PLAN, START_MS), _cut(whole, list(range(len(series)))))
    chopped, _ = run(begin(_PLAN, START_MS), _cut(whole, cuts))
    assert judged(at_once) == judged(one_by_one) == judged(chopped)


@settings(max_examples=100)
@given(_SERIES, _SERIES, st.lists(st.integers(0, 100), max_size=5))
def test_channels_do_not_depend_on_each_other(
    north: list[tuple[int, float, int]], south: list[tuple[int, float, int]], cuts: list[int]
) -> None:
    """However packs of two channels interleave, each channel is judged alike."""
    first = _cut(_samples(north), cuts)
    second = [
        Samples(SOUTH, each.at_ms, each.value, each.flags, each.received_ms)
        for each in _cut(_samples(south), cuts)
    ]
    together = sorted([*first, *second], key=lambda each: each.received_ms)
    apart, _ = run(begin(_PLAN, START_MS), [*first, *second])
    mixed, _ = run(begin(_PLAN, START_MS), together)
    assert judged(apart) == judged(mixed)


@settings(max_examples=300)
@given(_SERIES)
def test_agrees_with_a_plain_loop(series: list[tuple[int, float, int]]) -> None:
    """Each raising, each return and the time outside are those of a plain loop."""
    place = cooler(bands={NORTH.quantity: band(low=None, tolerated_s=300.0, ideal=None)})
    whole = _samples([(step_ms, value, 1) for step_ms, value, _ in series])
    loop = PlainLimit(5.0, 300_000, 0.3, 120_000, 180_000)
    for at_ms, value in zip(whole.at_ms.tolist(), whole.value.tolist(), strict=True):
        loop.take(at_ms, value)
    packs = _cut(whole, list(range(len(series))))
    state, told = run(begin(plan(farm([place]), []), START_MS), packs)
    assert [(t.edge.value, t.at_ms) for t in told] == loop.edges
    assert state.tracks[NORTH].standings[0].whole_ms == loop.whole_ms


@settings(max_examples=100)
@given(_SERIES, st.lists(st.integers(0, 200 * HOUR_MS), max_size=10))
def test_no_place_is_raised_or_returned_by_absence(
    series: list[tuple[int, float, int]], waits: list[int]
) -> None:
    """Without a sample nothing is decided of a place, whatever time passes."""
    state, _ = run(begin(_PLAN, START_MS), [_samples(series)])
    now_ms = state.now_ms
    for wait_ms in sorted(waits):
        stepped = step(state, Tick(now_ms + wait_ms))
        state = stepped.state
        assert all(t.key.kind is AlarmKind.SENSOR_SILENT for t in stepped.transitions)


@settings(max_examples=100)
@given(_SERIES, st.integers(1, 3))
def test_repeats_change_nothing(series: list[tuple[int, float, int]], times: int) -> None:
    """Readings that come again, one by one or packed, leave the state as it was."""
    whole = _samples(series)
    once, _ = run(begin(_PLAN, START_MS), [whole])
    again, told = run(once, [whole] * times)
    assert judged(again) == judged(once)
    assert [t.edge for t in told] == []


@settings(max_examples=100)
@given(_SERIES, st.randoms(use_true_random=False))
def test_a_pack_may_come_in_any_order(series: list[tuple[int, float, int]], dice: Random) -> None:
    """A pack is sorted by time before it is judged."""
    whole = _samples(series)
    order = list(range(len(series)))
    dice.shuffle(order)
    mixed = Samples(
        NORTH, whole.at_ms[order], whole.value[order], whole.flags[order], whole.received_ms
    )
    straight, _ = run(begin(_PLAN, START_MS), [whole])
    shuffled, _ = run(begin(_PLAN, START_MS), [mixed])
    assert judged(straight) == judged(shuffled)


@settings(max_examples=100)
@given(_SERIES)
def test_raise_and_return_alternate(series: list[tuple[int, float, int]]) -> None:
    """Of one alarm a raising is followed by a return, and a return by a raising."""
    whole = _samples(series)
    _, told = run(begin(_PLAN, START_MS), _cut(whole, list(range(len(series)))))
    for key in {t.key for t in told}:
        edges = [t.edge for t in told if t.key == key]
        assert edges[::2] == [Edge.RAISE] * len(edges[::2])
        assert edges[1::2] == [Edge.RETURN] * len(edges[1::2])


@settings(max_examples=200)
@given(
    st.lists(
        st.tuples(st.sampled_from([20_000, 60_000, 200_000]), _VALUES), min_size=2, max_size=40
    ),
    st.lists(st.integers(0, 100), max_size=6),
    st.randoms(use_true_random=False),
)
def test_late_packs_complete_the_run_that_lasts(
    series: list[tuple[int, float]], cuts: list[int], dice: Random
) -> None:
    """With the newest pack first and the others in any order, the run ends up the same."""
    whole = _samples([(step_ms, value, 1) for step_ms, value in series])
    packs = _cut(whole, cuts)
    late = packs[:-1]
    dice.shuffle(late)
    straight, _ = run(begin(_PLAN, START_MS), packs)
    mended, _ = run(begin(_PLAN, START_MS), [packs[-1], *late])
    for one, other in zip(
        straight.tracks[NORTH].standings, mended.tracks[NORTH].standings, strict=True
    ):
        assert one.run == other.run


def _of_place(transitions: Iterable[Transition]) -> list[Transition]:
    return [t for t in transitions if t.key.kind is not AlarmKind.SENSOR_SILENT]


@settings(max_examples=200)
@given(_SERIES, st.integers(0, 100))
def test_a_restart_changes_nothing_that_follows(
    series: list[tuple[int, float, int]], cut: int
) -> None:
    """Killed at any reading and replayed, the watch tells of the place what it would have.

    Silence goes by the clock, which a restart reads.
    """
    place = cooler(bands={NORTH.quantity: band(tolerated_s=300.0, tolerated_low_s=60.0)})
    compiled = plan(farm([place]), [])
    packs = _cut(_samples(series), list(range(len(series))))
    before, after = packs[: cut % len(packs)], packs[cut % len(packs) :]
    state, told = run(begin(compiled, START_MS), before)
    _, expected = run(state, after)
    rows = [alarm_of(t) for t in told if t.edge is Edge.RAISE and t.key in state.told]
    rows = [row for row in rows if row.raised_ms == state.told[row.key].raised_ms]
    again, _ = run(begin(compiled, START_MS, open_alarms=rows), before)
    settled = settle(again, rows, state.now_ms)
    assert _of_place(settled.transitions) == []
    assert judged(settled.state) == judged(state)
    _, told_after = run(settled.state, after)
    assert _of_place(told_after) == _of_place(expected)


def test_time_known_is_the_sum_of_allowed_steps() -> None:
    """Steps up to the allowed gap are known, longer ones are not."""
    whole = _samples([(60_000, 3.0, 1), (180_000, 3.0, 1), (180_001, 3.0, 1), (60_000, 3.0, 1)])
    state, _ = run(begin(_PLAN, START_MS), [whole])
    assert state.tracks[NORTH].known_ms == 4 * MINUTE_MS
