"""Limits with a tolerated time: when a place's alarm is raised and returned."""

import pytest

from monitor.model import AlarmKey, AlarmKind, Edge, Flag, Priority
from monitor.watch import Tick, begin, plan, step
from monitor.watch.state import Shown
from tests.watch.made import (
    DAMP,
    HOUR_MS,
    MINUTE_MS,
    NORTH,
    SOUTH,
    START_MS,
    band,
    batch,
    cooler,
    each,
    farm,
    pack,
    run,
)

WARM = AlarmKey(AlarmKind.TOO_WARM, "cooler")


def _warm_hour(after: float = 3.0) -> tuple[list[float], list[float]]:
    """Return two hours: 3 °C, from minute 10 to 60 7 °C, then as given."""
    minutes = [float(m) for m in range(120)]
    return minutes, [7.0 if 10 <= m <= 60 else (after if m > 60 else 3.0) for m in minutes]


def test_raises_once_after_the_whole_tolerated_time() -> None:
    """An alarm is raised at the first sample a whole tolerated time past the crossing."""
    _, told = run(begin(plan(farm(), []), START_MS), each(NORTH, *_warm_hour()))
    raised = told[0]
    assert (raised.key, raised.edge, raised.priority) == (WARM, Edge.RAISE, Priority.HIGH)
    # 3 °C at minute 9, 7 °C at minute 10: a straight line meets 5 °C at 9.5
    assert raised.began_ms == START_MS + round(9.5 * MINUTE_MS)
    assert raised.at_ms == START_MS + 40 * MINUTE_MS
    assert (raised.value, raised.limit, raised.peak) == (7.0, 5.0, 7.0)


def test_returns_after_deadband_and_off_delay() -> None:
    """An alarm returns once the value is past the limit by the deadband for the off-delay."""
    minutes, values = _warm_hour(after=4.8)
    values[70:] = [4.0] * 50
    _, told = run(begin(plan(farm(), []), START_MS), each(NORTH, minutes, values))
    returned = told[1]
    assert (returned.key, returned.edge) == (WARM, Edge.RETURN)
    assert returned.at_ms == START_MS + 72 * MINUTE_MS
    # 7 °C at minute 60, 4.8 at 61: back over the limit of 5 °C after 2.0 / 2.2 of it
    assert returned.facts["back_ms"] == START_MS + round((60 + 2.0 / 2.2) * MINUTE_MS)
    assert returned.peak == 7.0
    assert len(told) == 2


def test_the_limit_itself_is_outside() -> None:
    """A value that stays exactly on a harm limit raises the alarm."""
    minutes = [float(m) for m in range(60)]
    _, told = run(begin(plan(farm(), []), START_MS), each(NORTH, minutes, [5.0] * 60))
    assert [t.at_ms for t in told] == [START_MS + 30 * MINUTE_MS]


def test_a_gap_counts_for_no_delay() -> None:
    """Time that no reading covers counts for no delay; what is known on both sides does."""
    minutes = [*range(21), *range(140, 160)]
    values = [7.0] * len(minutes)
    _, told = run(begin(plan(farm(), []), START_MS), each(NORTH, minutes, values))
    assert [t.at_ms for t in told] == [START_MS + 150 * MINUTE_MS]
    assert told[0].began_ms == START_MS
    assert told[0].facts["unknown_s"] == 120 * 60


def test_one_sample_after_a_gap_raises_nothing() -> None:
    """Outside before a gap and at one sample after it is not the whole time outside."""
    minutes = [*range(6), 240]
    _, told = run(begin(plan(farm(), []), START_MS), each(NORTH, minutes, [7.0] * 7))
    assert told == []


def test_a_repeat_shortens_no_delay() -> None:
    """The same sample heard again and again makes no time pass."""
    events = [pack(NORTH, [0.0], [7.0], received_ms=START_MS + m * MINUTE_MS) for m in range(90)]
    _, told = run(begin(plan(farm(), []), START_MS), events)
    assert told == []


@pytest.mark.parametrize("flag", [Flag.SUSPECT, Flag.TIME_UNCERTAIN, Flag.IMPORTED])
def test_untrusted_samples_raise_nothing(flag: Flag) -> None:
    """Suspect, uncertain and imported readings raise no alarm."""
    events = [pack(NORTH, [float(m)], [9.0], flag) for m in range(120)]
    state, told = run(begin(plan(farm(), []), START_MS), events)
    assert told == []
    assert state.tracks[NORTH].newest is None


@pytest.mark.parametrize("flag", [Flag.SUSPECT, Flag.TIME_UNCERTAIN, Flag.IMPORTED])
def test_untrusted_samples_clear_nothing(flag: Flag) -> None:
    """Suspect, uncertain and imported readings clear no alarm."""
    state, told = run(
        begin(plan(farm(), []), START_MS), each(NORTH, [float(m) for m in range(45)], [7.0] * 45)
    )
    assert [t.edge for t in told] == [Edge.RAISE]
    _, more = run(state, [pack(NORTH, [float(m)], [3.0], flag) for m in range(45, 120)])
    assert more == []


def test_unit_suspect_still_judges() -> None:
    """A reading that looks like another unit raises, and the alarm says so."""
    events = [pack(NORTH, [float(m)], [39.4], Flag.UNIT_SUSPECT) for m in range(40)]
    _, told = run(begin(plan(farm(), []), START_MS), events)
    assert told[0].facts["unit_suspect"] is True


def test_silence_clears_nothing() -> None:
    """An alarm whose sensor falls silent stays, whatever time passes."""
    state, _ = run(
        begin(plan(farm(), []), START_MS), each(NORTH, [float(m) for m in range(45)], [7.0] * 45)
    )
    _, told = run(state, [Tick(START_MS + h * HOUR_MS) for h in range(1, 50)])
    assert {(t.key.kind, t.edge) for t in told} == {(AlarmKind.SENSOR_SILENT, Edge.RAISE)}


def test_returns_only_when_every_channel_is_back() -> None:
    """A second channel that went out meanwhile holds the alarm until it is back too."""
    minutes = [float(m) for m in range(120)]
    north = [7.0 if 10 <= m < 60 else 3.0 for m in minutes]
    south = [7.0 if 50 <= m < 75 else 3.0 for m in minutes]
    events = [
        sample
        for n, s in zip(each(NORTH, minutes, north), each(SOUTH, minutes, south), strict=True)
        for sample in (n, s)
    ]
    _, told = run(begin(plan(farm(), []), START_MS), events)
    assert [t.edge for t in told] == [Edge.RAISE, Edge.RETURN]
    assert told[1].at_ms >= START_MS + 74 * MINUTE_MS


def test_low_and_high_are_two_alarms() -> None:
    """Too cold and too warm have keys of their own, and each side its tolerated time."""
    place = cooler(bands={NORTH.quantity: band(tolerated_s=600.0, tolerated_low_s=120.0)})
    minutes = [float(m) for m in range(40)]
    values = [7.0 if m < 20 else -2.0 for m in minutes]
    _, told = run(begin(plan(farm([place]), []), START_MS), each(NORTH, minutes, values))
    assert [(t.key.kind, t.edge, t.at_ms) for t in told] == [
        (AlarmKind.TOO_WARM, Edge.RAISE, START_MS + 10 * MINUTE_MS),
        (AlarmKind.TOO_WARM, Edge.RETURN, START_MS + 22 * MINUTE_MS),
        (AlarmKind.TOO_COLD, Edge.RAISE, START_MS + 22 * MINUTE_MS),
    ]


def test_dry_air_is_an_alarm_of_its_own() -> None:
    """Humidity at or under its limit is told as too dry."""
    minutes = [float(m) for m in range(90)]
    _, told = run(begin(plan(farm(), []), START_MS), each(DAMP, minutes, [70.0] * 90))
    assert [(t.key.kind, t.priority) for t in told] == [(AlarmKind.TOO_DRY, Priority.MEDIUM)]


def test_drift_tells_nothing() -> None:
    """Past an ideal limit but inside harm nothing is told, for however long."""
    minutes = [float(m) for m in range(600)]
    _, told = run(begin(plan(farm(), []), START_MS), each(NORTH, minutes, [4.6] * 600))
    assert told == []


def test_a_batch_brings_its_own_limit() -> None:
    """A stage's limit judges the place while a batch is at it, and names that batch."""
    stems = batch(14, "cut_stems", "cooler")
    place = cooler(bands={NORTH.quantity: band(high=12.0)})
    minutes = [float(m) for m in range(30)]
    _, told = run(begin(plan(farm([place]), [stems]), START_MS), each(NORTH, minutes, [9.0] * 30))
    assert [(t.at_ms, t.limit, t.batches) for t in told] == [
        (START_MS + 10 * MINUTE_MS, 8.0, (14,))
    ]


def test_the_sum_of_short_times_outside_is_bounded() -> None:
    """Runs each within what is tolerated raise once their sum passes the cumulative bound."""
    stems = batch(14, "cut_stems", "cooler")
    place = cooler(bands={NORTH.quantity: band(high=12.0)})
    minutes = [float(m) for m in range(400)]
    values = [9.0 if m % 10 < 5 else 3.0 for m in minutes]  # half of the time, 5 min a run
    _, told = run(begin(plan(farm([place]), [stems]), START_MS), each(NORTH, minutes, values))
    raised = [t for t in told if t.edge is Edge.RAISE]
    assert len(raised) == 1
    # by straight lines 5 - 1/6 - 5/6 + 1 - ... = 4 whole steps and two parts a period
    per_period_min = 4 + (9 - 8) / (9 - 3) * 2
    periods = 120 / per_period_min
    assert raised[0].at_ms == pytest.approx(START_MS + periods * 10 * MINUTE_MS, abs=10 * MINUTE_MS)
    assert raised[0].facts["cumulative_s"] == 7200.0


def test_older_samples_never_move_the_newest() -> None:
    """A sample that comes late leaves the newest value as it is."""
    state, _ = run(begin(plan(farm(), []), START_MS), [pack(NORTH, [10.0], [3.0])])
    late = step(state, pack(NORTH, [5.0], [9.0], received_ms=START_MS + 11 * MINUTE_MS)).state
    assert late.tracks[NORTH].newest == state.tracks[NORTH].newest
    assert late.tracks[NORTH].shown == state.tracks[NORTH].shown


def test_a_late_pack_still_outside_is_an_alarm_from_its_start() -> None:
    """A pack of an hour outside, up to now, raises at once and is dated from its start."""
    state, _ = run(begin(plan(farm(), []), START_MS), [pack(NORTH, [0.0], [3.0])])
    stepped = step(state, pack(NORTH, list(range(1, 61)), [7.0] * 60))
    assert [t.began_ms for t in stepped.transitions] == [START_MS + MINUTE_MS // 2]


def test_a_late_pack_already_over_is_history() -> None:
    """A pack that shows harm and its end is a past excursion, and no alarm."""
    state, _ = run(begin(plan(farm(), []), START_MS), [pack(NORTH, [0.0], [3.0])])
    stepped = step(state, pack(NORTH, list(range(1, 90)), [7.0] * 60 + [3.0] * 29))
    assert stepped.transitions == ()
    assert [past.spell.peak for past in stepped.past] == [7.0]


def test_a_late_pack_that_ends_in_the_off_delay_is_no_alarm() -> None:
    """A run that is over at the newest sample is not raised while its off-delay still runs."""
    state, _ = run(begin(plan(farm(), []), START_MS), [pack(NORTH, [0.0], [3.0])])
    state, told = run(state, [pack(NORTH, list(range(1, 63)), [7.0] * 60 + [3.0] * 2)])
    assert told == []
    _, more = run(state, each(NORTH, [63.0, 64.0, 65.0], [3.0] * 3))
    assert more == []


def test_an_old_pack_from_a_silent_sensor_is_no_alarm() -> None:
    """A run outside at a newest sample that is hours old raises nothing."""
    state, _ = run(begin(plan(farm(), []), START_MS), [pack(NORTH, [0.0], [3.0])])
    old = pack(NORTH, list(range(1, 61)), [7.0] * 60, received_ms=START_MS + 5 * HOUR_MS)
    assert step(state, old).transitions == ()


def test_late_samples_complete_a_run_that_lasts() -> None:
    """What comes after the newest sample can show that it has been outside all along."""
    state, _ = run(begin(plan(farm(), []), START_MS), [pack(NORTH, [0.0], [3.0])])
    state, told = run(state, [pack(NORTH, [60.0], [7.0])])
    assert told == []
    late = pack(NORTH, list(range(1, 60)), [7.0] * 59, received_ms=START_MS + 61 * MINUTE_MS)
    state, told = run(state, [late])
    assert [(t.edge, t.began_ms) for t in told] == [(Edge.RAISE, START_MS + MINUTE_MS // 2)]


def test_late_samples_inside_shorten_no_more_than_they_show() -> None:
    """A late sample inside the limit begins the run anew and clears nothing."""
    state, _ = run(
        begin(plan(farm(), []), START_MS), each(NORTH, [float(m) for m in range(45)], [7.0] * 45)
    )
    late = pack(NORTH, [40.5], [3.0], received_ms=START_MS + 45 * MINUTE_MS)
    _, told = run(state, [late])
    assert told == []


def test_channels_that_are_not_of_the_farm_are_left_alone() -> None:
    """Readings of a sensor that the farm does not have change nothing."""
    state = begin(plan(farm(), []), START_MS)
    stray = pack(NORTH._replace(sensor="stray"), [1.0], [9.0])
    assert step(state, stray).state is state


def test_values_that_are_no_numbers_are_left_out() -> None:
    """A value that is not finite is neither judged nor shown."""
    state, told = run(
        begin(plan(farm(), []), START_MS),
        [pack(NORTH, [0.0, 1.0, 2.0], [3.0, float("nan"), float("inf")])],
    )
    assert told == []
    assert state.tracks[NORTH].shown == Shown(START_MS, 3.0, trusted=True)
