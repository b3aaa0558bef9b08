"""Sensors that fall silent together are one alarm, and their own silences are expected."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from monitor.farm import Farm
from monitor.model import (
    AlarmKey,
    AlarmKind,
    Channel,
    Edge,
    Priority,
    Quantity,
    Transition,
)
from monitor.science import warm_up
from monitor.watch import Hearing, Tick, WatchState, begin, next_due, plan, settle, step
from monitor.watch.dark import hold_over_s
from tests.watch.made import (
    MINUTE_MS,
    START_MS,
    alarm_of,
    batch,
    cooler,
    farm,
    pack,
    run,
    sensor,
)

NAMES = ("a", "b", "c", "d", "e", "f")
DARK = AlarmKey(AlarmKind.SENSORS_DARK, "")


def _farm(gateway: str = "", *, places: Sequence[str] = ("cooler", "room")) -> Farm:
    probes = [
        replace(sensor(name, (Quantity.TEMPERATURE,), places[n % len(places)]), gateway=gateway)
        for n, name in enumerate(NAMES)
    ]
    return farm([cooler(lag_s=7200.0)], probes)


def _at(minute: float) -> Tick:
    return Tick(START_MS + round(minute * MINUTE_MS))


def _heard(state: WatchState, names: Sequence[str], minute: float) -> WatchState:
    for n, name in enumerate(names):
        one = pack(Channel(name, Quantity.TEMPERATURE), [minute + n / 60], [3.0])
        state = step(state, one).state
    return state


def _kinds(told: Sequence[Transition], edge: Edge = Edge.RAISE) -> list[tuple[str, bool]]:
    """Return the subjects of one edge, each with whether it was expected."""
    return [(t.key.subject or t.key.kind.value, bool(t.expected)) for t in told if t.edge is edge]


def test_three_that_fall_silent_together_are_one_alarm() -> None:
    """Three last words within two intervals are one cause; each silence is then expected."""
    state = _heard(begin(plan(_farm(), []), START_MS), NAMES[3:], 5.0)
    state = _heard(state, NAMES[:3], 0.0)
    _, told = run(state, [_at(3 + n / 60) for n in range(4)])
    dark = [t for t in told if t.key == DARK]
    assert [t.facts["sensors"] for t in dark] == [["c", "a", "b"]]
    late = {t.key.subject: t.expected for t in told if t.key != DARK}
    assert late == dict.fromkeys("abc", "several sensors are dark together")


def test_two_are_no_common_cause() -> None:
    """Two silent sensors beside four that speak are two alarms."""
    state = _heard(begin(plan(_farm(), []), START_MS), NAMES[2:], 5.0)
    state = _heard(state, NAMES[:2], 0.0)
    _, told = run(state, [_at(3.5)])
    assert _kinds(told) == [("a", False), ("b", False)]


def test_silences_an_hour_apart_are_no_common_cause() -> None:
    """Three that died one after the other have nothing in common."""
    state = begin(plan(_farm(), []), START_MS)
    told: list[Transition] = []
    for n, name in enumerate(NAMES[:3]):
        state = _heard(state, NAMES[n:], n * 60.0 + 55)
        state = _heard(state, [name], n * 60.0 + 55)
        state, more = run(_heard(state, NAMES[n + 1 :], n * 60.0 + 58), [_at(n * 60.0 + 59)])
        told += more
        assert [t for t in more if t.key == DARK] == []
    assert [t.key.subject for t in told if t.edge is Edge.RAISE] == ["a", "b", "c"]


def test_a_gateway_that_goes_dark_is_one_alarm_of_its_name() -> None:
    """Six sensors of a declared gateway are one alarm, and one return when half are back."""
    state = _heard(begin(plan(_farm("barn"), []), START_MS), NAMES, 0.0)
    state, told = run(state, [_at(4)])
    assert _kinds(told) == [("barn", False), *((name, True) for name in NAMES)]
    assert {t.expected for t in told if t.expected} == {"the gateway is dark"}
    state = _heard(state, NAMES[:2], 30.0)
    assert AlarmKey(AlarmKind.SENSORS_DARK, "barn") in state.told
    stepped = step(state, pack(Channel("c", Quantity.TEMPERATURE), [30.1], [3.0]))
    ends = _kinds(stepped.transitions, Edge.RETURN)
    assert sorted(name for name, _ in ends) == ["barn", "c", "d", "e", "f"]
    assert stepped.state.told == {}


def _each_due(state: WatchState, until: float) -> tuple[WatchState, list[Transition]]:
    """Return the state after every moment that was due, and what was told."""
    said: list[Transition] = []
    while (due_ms := next_due(state)) is not None and due_ms <= START_MS + until * MINUTE_MS:
        state, more = run(state, [Tick(due_ms)])
        said += more
    return state, said


@pytest.mark.parametrize("gateway", ["barn", ""])
def test_what_falls_silent_one_by_one_within_a_turn_is_named_whole(gateway: str) -> None:
    """Last words spread over a minute, as sensors have them: one cause, with all of them."""
    state = begin(plan(_farm(gateway), []), START_MS)
    for n, name in enumerate(NAMES):
        state = _heard(state, [name], n / 6)
    _, told = _each_due(state, 10.0)
    (dark,) = [each for each in told if each.key.kind is AlarmKind.SENSORS_DARK]
    assert dark.key.subject == gateway
    assert sorted(dark.facts["sensors"]) == list(NAMES)
    assert dark.at_ms <= START_MS + 4 * MINUTE_MS
    last = {each.key.subject: bool(each.expected) for each in told if each.key != dark.key}
    assert last == dict.fromkeys(NAMES, True)


def test_one_that_speaks_again_is_not_waited_for_any_longer() -> None:
    """Four silent and a fifth that only missed a turn: told as four before any of them alone."""
    state = begin(plan(_farm(), []), START_MS)
    for n, name in enumerate(NAMES):
        state = _heard(state, [name], n / 6)
    state, first = _each_due(state, 3.6)
    assert [each.key.kind for each in first] == [AlarmKind.SENSOR_SILENT] * 4
    state = _heard(state, NAMES[4:], 3.65)
    told: list[Transition] = []
    for minute in np.arange(4.4, 8.0, 0.5):
        state, more = _each_due(state, float(minute))
        told += more
        state = _heard(state, NAMES[4:], float(minute))
    (dark,) = [each for each in told if each.key.kind is AlarmKind.SENSORS_DARK]
    assert sorted(dark.facts["sensors"]) == list(NAMES[:4])
    assert dark.at_ms <= START_MS + 6 * MINUTE_MS


def test_what_stays_silent_after_the_cause_is_told() -> None:
    """A sensor still silent by its own time after the cause has ended is told, not expected."""
    state = _heard(begin(plan(_farm("barn"), []), START_MS), NAMES, 0.0)
    state, _ = run(state, [_at(4)])
    state = _heard(state, NAMES[:5], 30.0)
    assert [t for t in step(state, _at(31)).transitions if t.key.subject == "f"] == []
    state = _heard(state, NAMES[:5], 32.0)
    state, told = run(state, [_at(33.2)])
    assert _kinds(told) == [("f", False)]


def test_a_place_that_goes_blind_makes_it_high() -> None:
    """A common cause that leaves a cooler with batches unheard wakes; of a room alone, not."""
    holding = plan(_farm(), [batch(1, "cut_stems", "cooler")])
    _, told = run(_heard(begin(holding, START_MS), NAMES, 0.0), [_at(4)])
    assert [t.priority for t in told if t.key == DARK] == [Priority.HIGH]
    empty = plan(_farm(), [])
    _, told = run(_heard(begin(empty, START_MS), NAMES, 0.0), [_at(4)])
    assert [t.priority for t in told if t.key == DARK] == [Priority.MEDIUM]


def test_all_of_a_small_farm_in_two_places_are_one_cause() -> None:
    """Both of two sensors, each in its own place, silent at once: one cause."""
    two = farm(sensors=[sensor("a", (Quantity.TEMPERATURE,)),
                        sensor("b", (Quantity.TEMPERATURE,), "room")])  # fmt: skip
    _, told = run(_heard(begin(plan(two, []), START_MS), "ab", 0.0), [_at(4)])
    assert _kinds(told) == [("sensors_dark", False), ("a", True), ("b", True)]


def test_a_restart_knows_the_cause_again() -> None:
    """The ledger's rows give back what is explained by what: nothing is told twice."""
    state = _heard(begin(plan(_farm("barn"), []), START_MS), NAMES, 0.0)
    state, told = run(state, [_at(4)])
    rows = [replace(alarm_of(t, n), why=t.expected) for n, t in enumerate(told, start=1)]
    heard = {name: each.live_ms or 0 for name, each in state.heard.items()}
    again = begin(state.plan, state.now_ms, heard=heard, open_alarms=rows)
    settled = settle(again, rows, state.now_ms)
    assert settled.transitions == ()
    assert settled.state.told == state.told


# -- no broker -----------------------------------------------------------------------------


def test_without_a_broker_no_sensor_is_silent() -> None:
    """While nothing can be heard no silence is told; once it can, each has its own time."""
    state = _heard(begin(plan(_farm(), []), START_MS), NAMES, 0.0)
    state, told = run(state, [Hearing(START_MS + MINUTE_MS, deaf=True), _at(5), _at(600)])
    assert told == []
    back_ms = START_MS + 600 * MINUTE_MS
    state, told = run(state, [Hearing(back_ms, deaf=False), _at(602.9)])
    assert told == []
    state, told = run(state, [_at(603.1)])
    assert ("sensors_dark", False) in _kinds(told)


def test_short_losses_of_the_broker_hide_no_dead_sensor() -> None:
    """A broker lost for seconds, again and again, lets a dead sensor be told all the same."""
    state = _heard(begin(plan(_farm(), []), START_MS), NAMES[:1], 0.0)
    told: list[Transition] = []
    for minute in range(1, 5):
        at_ms = START_MS + minute * MINUTE_MS
        state = _heard(state, NAMES[1:], float(minute))
        events = [Hearing(at_ms + 5000, deaf=True), Hearing(at_ms + 9000, deaf=False)]
        state, more = run(state, events)
        told += more
    assert _kinds(told) == [("a", False)]


# -- worth telling -------------------------------------------------------------------------


def _silence(state: WatchState, minute: float) -> Transition:
    (told,) = [t for t in run(state, [_at(minute)])[1] if t.key.subject == "north"]
    return told


def test_a_silence_is_worth_telling_after_twenty_intervals() -> None:
    """The message waits for twenty intervals of one minute (the rule as it was decided)."""
    north = pack(Channel("north", Quantity.TEMPERATURE), [0.0], [3.0])
    state = step(begin(plan(farm(), []), START_MS), north).state
    assert _silence(state, 4).facts["tell_ms"] == START_MS + 20 * MINUTE_MS


@pytest.mark.parametrize(("held", "minutes"), [(True, 30), (False, 60)])
def test_a_slow_sensor_is_told_within_an_hour_or_half_where_it_blinds(
    held: bool, minutes: int
) -> None:
    """Twenty intervals of ten minutes are cut to an hour, or half where stems go unseen."""
    slow = replace(
        sensor("north", (Quantity.TEMPERATURE,)), interval_s=600.0, silent_after_s=1500.0
    )
    batches = [batch(1, "cut_stems", "cooler")] if held else []
    state = begin(plan(farm(sensors=[slow]), batches), START_MS)
    north = pack(Channel("north", Quantity.TEMPERATURE), [0.0], [3.0])
    told = _silence(step(state, north).state, 26)
    assert told.facts["tell_ms"] == START_MS + minutes * MINUTE_MS


def test_what_healed_by_itself_before_is_waited_for() -> None:
    """A sensor that came back by itself after 60 minutes is given 1.3 times that, for a week."""
    state = begin(plan(farm(), []), START_MS)
    north = Channel("north", Quantity.TEMPERATURE)
    state, _ = run(state, [pack(north, [0.0], [3.0]), _at(5), pack(north, [60.0], [3.0])])
    told = _silence(state, 64)
    assert told.facts["tell_ms"] == START_MS + 60 * MINUTE_MS + 78 * MINUTE_MS
    later = 60 + 8 * 1440.0
    state = step(state, pack(north, [later], [3.0])).state
    assert _silence(state, later + 4).facts["tell_ms"] == START_MS + (later + 20) * MINUTE_MS


# -- hold-over and power -------------------------------------------------------------------


def test_the_hold_over_lies_between_the_warmest_and_the_coolest_room() -> None:
    """It is no shorter than for contents put into 26 °C at once, by Newton's law of cooling."""
    hold = hold_over_s(3.0, 5.0, 7200.0)
    assert hold is not None
    soonest = float(warm_up.time_to_limit_s(3.0, 5.0, 26.0, 7200.0))
    assert soonest == pytest.approx(7200.0 * np.log(23.0 / 21.0))
    assert soonest < hold[0] < hold[1]


def test_no_hold_over_is_given_where_it_is_not_known() -> None:
    """A place whose contents' lag was not declared says nothing of hours left."""
    state = _heard(begin(plan(_farm(), []), START_MS), NAMES, 0.0)
    _, told = run(state, [_at(4)])
    (dark,) = [t for t in told if t.key == DARK]
    known = {each["place"]: "hold_s" in each for each in dark.facts["dark"]}
    assert known == {"cooler": True, "room": False}


def test_power_that_is_out_for_two_minutes_is_told_and_explains_silence() -> None:
    """Mains at 0 for two minutes is one alarm of its place; silence there is expected."""
    both = [sensor("a", (Quantity.TEMPERATURE,)), sensor("p", (Quantity.MAINS,))]
    mains = Channel("p", Quantity.MAINS)
    state = begin(plan(farm(sensors=both), []), START_MS)
    state = _heard(step(state, pack(mains, [0.0], [1.0])).state, "a", 0.5)
    stepped = step(state, pack(mains, [1.0], [0.0]))
    assert stepped.transitions == ()
    assert next_due(stepped.state) == START_MS + 3 * MINUTE_MS
    state, told = run(stepped.state, [_at(3), pack(mains, [3.1], [0.0]), _at(4)])
    assert [(t.key.kind, t.expected) for t in told] == [
        (AlarmKind.MAINS_LOST, ""), (AlarmKind.SENSOR_SILENT, "the power is out"),
    ]  # fmt: skip
    _, told = run(state, [pack(mains, [20.0], [1.0])])
    assert [(t.key.kind, t.edge) for t in told] == [
        (AlarmKind.MAINS_LOST, Edge.RETURN), (AlarmKind.SENSOR_SILENT, Edge.RETURN),
    ]  # fmt: skip
