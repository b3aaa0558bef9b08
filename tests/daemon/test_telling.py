"""What is told of, and what is over before it was worth telling: real files, no sending."""

import asyncio
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import pytest
from pydantic import SecretStr

from monitor import watch
from monitor.daemon import chores, ringing
from monitor.daemon.replaying import Replay, replayed_json
from monitor.farm import Duty, NoticeRules, Person
from monitor.model import (
    AlarmKind,
    AlarmState,
    Channel,
    Notice,
    NoticeKind,
    NoticeStatus,
    Priority,
    Quantity,
)
from tests.daemon.made import Post, farm, readings
from tests.watch.made import MINUTE_MS, NORTH, SOUTH, START_MS, batch

QUARTER = 15
DAY_MS = 86_400_000
DAMP = Channel("north", Quantity.HUMIDITY)


def _pass(post: Post, minute: float) -> None:
    """Let time pass to a minute, judge it and write what follows."""
    post.clock.now = START_MS + round(minute * MINUTE_MS)
    post.judge.tick(post.clock.now)
    asyncio.run(post.judge.write())


def _both(post: Post, minutes: Iterable[float]) -> None:
    """Let both sensors of the cooler speak; north's dampness with it."""
    times = list(minutes)
    for channel, value in ((NORTH, 3.0), (DAMP, 92.0), (SOUTH, 3.0)):
        post.hear(readings(times, value, channel))


def _south(post: Post, minutes: Iterable[float]) -> None:
    post.hear(readings(list(minutes), 3.0, SOUTH))


def _chores(post: Post, minute: float) -> None:
    post.clock.now = START_MS + round(minute * MINUTE_MS)
    chores.mind_notices(post.judge, post.clock.now)
    asyncio.run(post.judge.write())


def _fail(post: Post, notice: Notice, minute: float) -> None:
    """Write down that a try to send a notice failed."""
    at_ms = START_MS + round(minute * MINUTE_MS)
    post.ledger.record_attempt(notice.id, at_ms, sent=False, error="gone", retry_at_ms=at_ms + 1)


def _kinds(post: Post) -> list[tuple[AlarmKind, AlarmState]]:
    return [(each.key.kind, each.state) for each in reversed(post.ledger.alarms())]


# -- over before it was worth telling --------------------------------------------------------


def test_a_silence_that_heals_before_it_is_told_tells_nobody(post: Post) -> None:
    """Twelve minutes without a word: an alarm in the list, its message withdrawn, no clearing."""
    _both(post, range(10))
    _south(post, range(10, 22))
    _pass(post, 15)
    (waiting,) = post.ledger.notices()
    assert (waiting.status, waiting.due_ms) == (NoticeStatus.WAITING, START_MS + 29 * MINUTE_MS)
    _both(post, (22, 23))
    _pass(post, 23)
    (withdrawn,) = post.ledger.notices()
    assert withdrawn.status is NoticeStatus.DROPPED
    assert withdrawn.last_error == "over before anybody was to be told"
    assert _kinds(post) == [(AlarmKind.SENSOR_SILENT, AlarmState.NORMAL)]


def test_a_silence_that_lasts_is_told_and_cleared(post: Post) -> None:
    """After twenty intervals of a minute the message is due; its end is told as well."""
    _both(post, range(10))
    _south(post, range(10, 40))
    _pass(post, 13)
    _pass(post, 31)
    (due,) = post.ledger.waiting(post.clock.now)
    assert due.due_ms == START_MS + 29 * MINUTE_MS
    post.ledger.record_attempt(due.id, post.clock.now, sent=True)
    _both(post, (40, 41))
    _pass(post, 41)
    assert [each.kind for each in post.ledger.notices()] == [NoticeKind.CLEARED, NoticeKind.RAISED]


def test_a_replay_says_that_nobody_was_told_of_what_was_withdrawn(post: Post) -> None:
    """The healed silence has no time of notice, the lasting one its twenty intervals."""
    minutes = [*range(10), *range(22, 60), *range(90, 100)]
    post.keep(readings(minutes, 3.0))
    post.keep(readings(minutes, 92.0, DAMP))
    post.keep(readings(range(100), 3.0, SOUTH))
    reader = post.store.reader()
    end_ms = START_MS + 100 * MINUTE_MS
    found = replayed_json(Replay(post.farm, [], reader, START_MS, end_ms).run())
    reader.close()
    silent = [each for each in found if each["kind"] == "sensor_silent"]
    assert [each["notified_at"] is None for each in silent] == [True, False]
    assert all(each["returned_at"] is not None for each in silent)


def test_the_next_person_is_not_rung_before_the_first_was_to_be_told(tmp_path: Path) -> None:
    """A grave silence that waits for its time is nobody's to take yet; then it goes on."""
    people = {
        each: Person(each, each.title(), (SecretStr(f"json://{each}"),)) for each in ("ida", "max")
    }
    rules = NoticeRules(escalate_after_s=300.0)
    post = Post(farm(tmp_path, people=people, notices=rules, duty=(Duty("ida"),)))
    _both(post, range(10))
    plan = watch.plan(post.farm, [batch(1, "cut_stems", "cooler")])
    replanned = watch.Replanned(plan, post.clock.now)
    post.judge.state = watch.step(post.judge.state, replanned).state
    _pass(post, 13)
    assert {each.priority for each in post.ledger.alarms()} == {Priority.HIGH}
    for minute in range(14, 29):
        post.clock.now = START_MS + minute * MINUTE_MS
        ringing.do(post.judge, post.clock.now)
    assert {each.person for each in post.ledger.notices()} == {"ida"}
    for each in post.ledger.notices():
        post.ledger.record_attempt(each.id, START_MS + 29 * MINUTE_MS, sent=True)
    for minute, rung in ((31, {"ida"}), (35, {"ida", "max"})):
        post.clock.now = START_MS + minute * MINUTE_MS
        ringing.do(post.judge, post.clock.now)
        assert {each.person for each in post.ledger.notices()} == rung
    post.close()


# -- nothing gets through ----------------------------------------------------------------------


def test_a_quarter_of_an_hour_without_a_message_through_is_an_alarm_of_its_own(
    post: Post,
) -> None:
    """Not a minute sooner, once, and over as soon as a newer message is through."""
    post.hear(readings(range(46), 7.0))
    asyncio.run(post.judge.write())
    (raised,) = post.ledger.notices()
    for minute in (46, 50, 60):
        _fail(post, raised, minute)
    _chores(post, 46 + QUARTER - 1)
    assert AlarmKind.NOTICES_FAILED not in dict(_kinds(post))
    for more in (0, 1, 5):
        _chores(post, 46 + QUARTER + more)
    assert dict(_kinds(post))[AlarmKind.NOTICES_FAILED] is AlarmState.UNACKNOWLEDGED
    assert len(post.ledger.alarms()) == 2
    for each in post.ledger.waiting(post.clock.now + DAY_MS):
        post.ledger.record_attempt(each.id, post.clock.now, sent=True)
    _chores(post, 46 + QUARTER + 6)
    assert dict(_kinds(post))[AlarmKind.NOTICES_FAILED] is AlarmState.RETURNED_UNACKNOWLEDGED


def test_one_dead_address_beside_a_live_one_is_not_nobody(post: Post) -> None:
    """Where the same alarm reached the other address, no second alarm is raised of that."""
    post.hear(readings(range(46), 7.0))
    asyncio.run(post.judge.write())
    (first,) = post.ledger.notices()
    (second,) = post.ledger.add_notices([replace(first, address="2")])
    post.ledger.record_attempt(second.id, post.clock.now, sent=True)
    for minute in (46, 50, 70):
        _fail(post, first, minute)
    _chores(post, 90)
    assert AlarmKind.NOTICES_FAILED not in dict(_kinds(post))


def test_a_clock_set_back_a_day_delays_that_by_no_day(post: Post) -> None:
    """Failing before the jump and after it: a quarter of an hour after the jump it is said."""
    post.hear(readings(range(46), 7.0))
    asyncio.run(post.judge.write())
    (raised,) = post.ledger.notices()
    _fail(post, raised, 46)
    back = 47 - 24 * 60
    for minute in (back, back + 10):
        _fail(post, raised, minute)
    _chores(post, back + QUARTER + 1)
    assert dict(_kinds(post))[AlarmKind.NOTICES_FAILED] is AlarmState.UNACKNOWLEDGED


# -- bad input -----------------------------------------------------------------------------------


@pytest.mark.parametrize("people", [{}, {"ida": Person("ida", "Ida", ())}])
def test_a_person_with_no_address_leaves_a_failure_and_the_alarm(
    tmp_path: Path, people: dict[str, Person]
) -> None:
    """Nobody can be told: one failed row that says so; the alarm stands, and can be answered."""
    post = Post(farm(tmp_path, people=people))
    post.hear(readings(range(46), 7.0))
    asyncio.run(post.judge.write())
    assert _kinds(post) == [(AlarmKind.TOO_WARM, AlarmState.UNACKNOWLEDGED)]
    (row,) = post.ledger.notices()
    assert (row.status, row.person) == (NoticeStatus.FAILED, "")
    assert row.last_error.startswith("nobody to tell: no person of this priority has an address")
    post.close()


def test_a_clock_stepping_back_a_day_while_an_alarm_is_pending_raises_it_in_time(
    post: Post,
) -> None:
    """Twenty minutes out before the jump and eleven after it make half an hour, told once."""
    post.hear(readings(range(20), 7.0))
    asyncio.run(post.judge.write())
    assert post.ledger.alarms() == []
    post.clock.now -= DAY_MS
    post.judge.clock_stepped(post.clock.now, -DAY_MS)
    later = [minute - DAY_MS / MINUTE_MS for minute in range(20, 32)]
    post.hear(readings(later, 7.0))
    asyncio.run(post.judge.write())
    assert _kinds(post) == [(AlarmKind.TOO_WARM, AlarmState.UNACKNOWLEDGED)]
    (row,) = post.ledger.notices()
    assert row.due_ms <= post.clock.now + MINUTE_MS


def test_a_clock_stepping_back_a_day_holds_back_no_message_of_an_open_alarm(post: Post) -> None:
    """A silence whose message waited is told by the new clock, and so is its end."""
    _both(post, range(10))
    _south(post, range(10, 16))
    _pass(post, 15)
    (waiting,) = post.ledger.notices()
    assert waiting.due_ms == START_MS + 29 * MINUTE_MS
    post.clock.now -= DAY_MS
    post.judge.clock_stepped(post.clock.now, -DAY_MS)
    chores.follow_clock(post.judge, post.clock.now, -DAY_MS)
    asyncio.run(post.judge.write())
    (waiting,) = post.ledger.notices()
    assert waiting.status is NoticeStatus.WAITING
    assert waiting.due_ms == START_MS + 29 * MINUTE_MS - DAY_MS
    post.ledger.record_attempt(waiting.id, post.clock.now, sent=True)
    _both(post, (35 - DAY_MS / MINUTE_MS, 36 - DAY_MS / MINUTE_MS))
    asyncio.run(post.judge.write())
    assert [each.kind for each in post.ledger.notices()] == [NoticeKind.CLEARED, NoticeKind.RAISED]
    assert _kinds(post) == [(AlarmKind.SENSOR_SILENT, AlarmState.RETURNED_UNACKNOWLEDGED)]


def test_a_clock_set_right_forward_leaves_what_waits_where_it_was(post: Post) -> None:
    """What was written by a right clock keeps its time when one that booted in the past jumps."""
    _both(post, range(10))
    _south(post, range(10, 16))
    _pass(post, 15)
    (before,) = post.ledger.notices()
    chores.follow_clock(post.judge, post.clock.now, 13 * DAY_MS)
    assert post.ledger.notices() == [before]
