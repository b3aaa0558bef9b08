"""The morning message."""

from dataclasses import replace

from monitor.alarms import on_transition, wording
from monitor.model import (
    Alarm,
    AlarmKey,
    AlarmKind,
    AlarmState,
    NoticeKind,
    Priority,
    Quantity,
    Side,
)
from monitor.notices import Morning, morning_message
from monitor.watch import Drift, Due
from tests.alarms.test_machine import RAISE
from tests.watch.made import HOUR_MS, START_MS, batch, farm

FARM = farm()
WORDS = wording(FARM, [batch(8, "pre_sprout", "room", unit="corms")])
DRIFT = Drift("cooler", Quantity.TEMPERATURE, Side.HIGH, 4.0, 11_400.0, 3600.0, 5.1)
DUE = Due(
    8,
    "room",
    "pre_sprout",
    START_MS - 312 * HOUR_MS,
    START_MS,
    START_MS + 24 * HOUR_MS,
    late_harms=False,
)


def _message(morning: Morning) -> list[str]:
    rows = morning_message(morning, WORDS, FARM.people, FARM.notices, START_MS)
    assert {row.kind for row in rows} <= {NoticeKind.MORNING}
    return sorted({row.body for row in rows})


def _open() -> Alarm:
    decision = on_transition(RAISE, WORDS, START_MS)(None)
    assert decision is not None
    return decision.alarm


def test_nothing_to_tell_is_no_message() -> None:
    """A morning without drift, work or alarms is silent."""
    assert _message(Morning()) == []
    over = replace(_open(), state=AlarmState.NORMAL)
    assert _message(Morning(alarms=[over])) == []


def test_tells_drift_work_and_alarms_in_that_order() -> None:
    """Drift, the work due and what is still open stand in one message, line by line."""
    (body,) = _message(Morning([DRIFT], [DUE], [_open()]))
    assert body.splitlines() == [
        "Walk-in cooler drifted: air above 39.2 °F for 3 h 10 min, highest 41.2 °F.",
        (
            "Sprouting room: batch 8, Dawn Apricot, at pre-sprout since 23 Feb 15:00; "
            "the longest time for that ends tomorrow 16:00."
        ),
        "Still open: Walk-in cooler is too warm, since 15:00.",
    ]


def test_a_long_list_is_cut_and_says_so() -> None:
    """A morning with very much to tell stays readable on a phone."""
    (body,) = _message(Morning(drifts=[DRIFT] * 30))
    assert len(body.splitlines()) == 9
    assert body.endswith("and 22 more like these.")


def test_goes_out_at_low_priority() -> None:
    """The morning message belongs to no alarm and wakes nobody."""
    rows = morning_message(Morning([DRIFT]), WORDS, FARM.people, FARM.notices, START_MS)
    assert {(row.priority, row.alarm) for row in rows} == {(Priority.LOW.value, None)}
    assert rows[0].title == "Low Meadow, this morning"


def test_what_is_low_says_what_to_do_until_somebody_has_seen_it() -> None:
    """A tired machine is told by this message alone, and not again once acknowledged."""
    key = AlarmKey(AlarmKind.WORKING_HARDER, "cooler")
    tired = replace(
        _open(), key=key, priority=Priority.LOW, title="Walk-in cooler works harder than it used to"
    )
    (body,) = _message(Morning(alarms=[tired]))
    assert body.endswith("since 15:00. First look: dust or ice on the coil, and the door seal.")
    assert _message(Morning(alarms=[replace(tired, state=AlarmState.ACKNOWLEDGED)])) == []
    grave = replace(_open(), state=AlarmState.ACKNOWLEDGED)
    assert len(_message(Morning(alarms=[grave]))) == 1
