"""What is judged is told once, and nothing is told before the ledger has it."""

import asyncio
import logging
from dataclasses import replace
from typing import Any

import pytest

from monitor import watch
from monitor.daemon import desk
from monitor.errors import StoreError, UnknownNameError
from monitor.model import AlarmKind, AlarmState, Edge, EntryKind, Flag, NewEntry, NoticeKind
from monitor.watch import next_due
from tests.daemon.made import Post, readings
from tests.watch.made import MINUTE_MS, START_MS

SPELL = range(46)
FORTNIGHT_MS = 14 * 86_400_000


def write(post: Post) -> None:
    """Let the judge write what waits."""
    asyncio.run(post.judge.write())


def kinds(post: Post) -> list[tuple[AlarmKind, AlarmState]]:
    """Return the alarms of the ledger, the oldest first."""
    return [(each.key.kind, each.state) for each in reversed(post.ledger.alarms())]


def test_a_ledger_that_fails_is_tried_again(
    post: Post, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """What cannot be written stays first in line, is shown, and is told once it can be."""
    told: list[int] = []
    post.judge.on_told = lambda: told.append(1)
    post.hear(readings(SPELL, 7.0))
    post.judge.own(AlarmKind.BROKER_LOST, post.clock.now, bad=True)
    with monkeypatch.context() as broken, caplog.at_level(logging.ERROR):
        broken.setattr(post.ledger, "transact", _full)
        write(post)
        write(post)
    assert (post.judge.stuck, told, kinds(post)) == ("the disk is full", [], [])
    assert caplog.text.count("the disk is full") == 1
    write(post)
    assert (post.judge.stuck, told) == ("", [1])
    assert [kind for kind, _ in kinds(post)] == [AlarmKind.TOO_WARM, AlarmKind.BROKER_LOST]


def test_what_is_due_is_looked_for_when_it_is_asked_for(
    post: Post, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A reading looks at its own channel alone; all are looked at once for each state asked of."""
    looked: list[watch.WatchState] = []

    def counted(state: watch.WatchState) -> int | None:
        looked.append(state)
        return next_due(state)

    monkeypatch.setattr(watch, "next_due", counted)
    post.hear(readings(SPELL, 3.0))
    assert looked == []
    due_ms = post.judge.next_due_ms
    assert post.judge.next_due_ms == due_ms == next_due(post.judge.state)
    assert looked == [post.judge.state]
    post.hear(readings(range(46, 47), 3.0))
    assert post.judge.next_due_ms == next_due(post.judge.state)
    assert looked[1:] == [post.judge.state]


def _full(*_: object) -> None:
    raise StoreError("the disk is full")


def test_one_alarm_that_cannot_be_worded_keeps_no_other_back(
    post: Post, caplog: pytest.LogCaptureFixture
) -> None:
    """A defect in one transition is logged; those behind it are written."""
    post.hear(readings(SPELL, 7.0))
    poison = replace(post.judge.pending[0], facts={"odd": {"no JSON"}})
    post.judge.pending.appendleft(poison)
    post.judge.own(AlarmKind.BROKER_LOST, post.clock.now, bad=True)
    write(post)
    assert "could not be told" in caplog.text
    assert [kind for kind, _ in kinds(post)] == [AlarmKind.TOO_WARM, AlarmKind.BROKER_LOST]


def test_what_the_monitor_sees_in_itself_is_told_once(post: Post) -> None:
    """Said again and again, and after a restart too, it is one alarm until it returns."""
    for _ in range(3):
        post.judge.own(AlarmKind.BROKER_LOST, post.clock.now, bad=True)
    write(post)
    post.start().own(AlarmKind.BROKER_LOST, post.clock.now, bad=True)
    write(post)
    (alarm,) = post.ledger.alarms()
    assert [each.kind for each in post.ledger.notices_of(alarm.id)] == [NoticeKind.RAISED]
    for _ in range(2):
        post.judge.own(AlarmKind.BROKER_LOST, post.clock.now, bad=False)
    write(post)
    assert kinds(post) == [(AlarmKind.BROKER_LOST, AlarmState.RETURNED_UNACKNOWLEDGED)]
    told = [each.kind for each in post.ledger.notices_of(alarm.id)]
    assert told == [NoticeKind.RAISED, NoticeKind.CLEARED]


def test_a_sensor_that_stays_silent_after_a_restart_is_told(post: Post) -> None:
    """Nothing has to be heard for silence to be noticed."""
    post.hear(readings([0], 3.0))
    post.clock.now += 10 * MINUTE_MS
    judge = post.start()
    judge.tick(post.clock.now)
    assert not judge.pending
    judge.tick(post.clock.now + 4 * MINUTE_MS)
    assert [each.key.kind for each in judge.pending] == [AlarmKind.SENSOR_SILENT]


@pytest.mark.parametrize("by_ms", [13 * 86_400_000, -13 * 86_400_000])
def test_a_clock_that_jumps_silences_nobody(post: Post, by_ms: int) -> None:
    """A jump of 13 days raises nothing; the next reading counts, and silence still does."""
    post.hear(readings(range(10), 3.0, flags=Flag.NONE))
    post.clock.now += by_ms
    post.judge.clock_stepped(post.clock.now, by_ms)
    post.judge.tick(post.clock.now)
    assert not post.judge.pending
    later = [replace(each, at_ms=each.at_ms + by_ms, received_ms=each.received_ms + by_ms)
             for each in readings([11], 3.0)]  # fmt: skip
    post.judge.readings(later)
    post.judge.tick(later[0].received_ms + 2 * MINUTE_MS)
    assert not post.judge.pending
    post.judge.tick(later[0].received_ms + 4 * MINUTE_MS)
    assert [each.key.kind for each in post.judge.pending] == [AlarmKind.SENSOR_SILENT]


def test_how_far_was_judged_is_noted_only_with_nothing_waiting(post: Post) -> None:
    """A note ahead of what is written would lose it at a kill."""
    post.hear(readings(SPELL, 7.0))
    post.judge.note_judged()
    assert post.ledger.judged_to() is None
    write(post)
    assert post.ledger.judged_to() == START_MS + 45 * MINUTE_MS
    post.hear(readings([47], 7.0))
    post.judge.note_judged()
    assert post.ledger.judged_to() == START_MS + 47 * MINUTE_MS


def test_batches_are_planned_anew_only_when_an_entry_was_written(post: Post) -> None:
    """What a sender writes in the ledger is no reason to judge anew."""
    post.judge.reread(post.ledger.entries(), START_MS)
    state = post.judge.state
    post.judge.reread(post.ledger.entries(), START_MS)
    assert post.judge.state is state
    data: dict[str, Any] = {
        "crop": "ranunculus", "cultivar": "Dawn Apricot", "count": 320, "unit": "stems",
        "place": "cooler", "stage": "cut_stems",
    }  # fmt: skip
    new = NewEntry(None, EntryKind.ADDED, START_MS, "wren", data)
    post.ledger.write_entries(lambda _: [new], START_MS)
    post.judge.reread(post.ledger.entries(), START_MS)
    assert post.judge.state.plan.places["cooler"].batches == (1,)


def test_an_alarm_is_acknowledged_once(post: Post) -> None:
    """The second person is told who was first; an alarm that is not there is named."""
    post.hear(readings(SPELL, 7.0))
    write(post)
    judge = post.judge

    def seen(by: str, number: int = 1) -> str:
        return desk.acknowledge(
            judge.farm, judge.ledger, judge.book, alarm_id=number, by=by, now_ms=post.clock.now
        )

    assert seen("Ida") == "alarm 1 is acknowledged by Ida"
    assert seen("Max").startswith("alarm 1 was acknowledged by Ida at")
    (alarm,) = post.ledger.alarms()
    assert (alarm.state, alarm.acknowledged_by) == (AlarmState.ACKNOWLEDGED, "Ida")
    assert len(post.ledger.audit(1)) == 2
    with pytest.raises(UnknownNameError, match="no alarm 9"):
        seen("Ida", 9)


def test_another_configuration_judges_from_then_on(post: Post) -> None:
    """A place that is gone takes its alarm with it."""
    post.hear(readings(SPELL, 7.0))
    write(post)
    places = {key: each for key, each in post.farm.places.items() if key != "cooler"}
    post.judge.use(replace(post.farm, places=places, sensors={}), post.clock.now)
    assert [(each.key.kind, each.edge) for each in post.judge.pending] == [
        (AlarmKind.TOO_WARM, Edge.RETURN)
    ]


def test_a_second_mistake_is_not_hidden_by_the_first(post: Post) -> None:
    """Another detail raises the alarm again, with the words of the present mistake."""
    refused = AlarmKind.CONFIGURATION_REFUSED
    post.judge.own(refused, post.clock.now, bad=True, detail="people.toml: line 3")
    post.judge.own(refused, post.clock.now + 40_000, bad=True, detail="farm.toml: line 7")
    write(post)
    [alarm] = post.ledger.alarms()
    assert "farm.toml: line 7" in alarm.text
    assert alarm.state is AlarmState.UNACKNOWLEDGED


def test_a_mended_mistake_says_how_long_it_stood(post: Post) -> None:
    """The end of what the monitor saw in itself counts from its beginning."""
    lost, now_ms = AlarmKind.BROKER_LOST, post.clock.now
    post.judge.own(lost, now_ms, bad=True)
    post.judge.own(lost, now_ms + 40_000, bad=False)
    write(post)
    [alarm] = post.ledger.alarms()
    assert (alarm.began_ms, alarm.returned_ms) == (now_ms, now_ms + 40_000)
    assert "40 s" in alarm.text
