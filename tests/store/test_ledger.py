"""The ledger: written once, decided under the lock, whole or not at all."""

import sqlite3
import subprocess
import sys
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest

from monitor.errors import LedgerRuleError, StoreError, UnknownNameError
from monitor.model import (
    Alarm,
    AlarmKey,
    AlarmKind,
    AlarmState,
    Decision,
    EntryKind,
    LedgerEntry,
    NewEntry,
    NoticeKind,
    NoticeStatus,
)
from monitor.store import Ledger
from tests.store.making import T0_MS, WARM, alarm, line, notice


@pytest.fixture
def ledger(tmp_path: Path) -> Ledger:
    """Return an empty ledger."""
    return Ledger.open(tmp_path / "data" / "ledger.db")


def _raise(row: Alarm | None) -> Decision | None:
    return None if row else Decision(alarm(), (line(),), (notice(),))


def _raised(ledger: Ledger) -> Alarm:
    decision = ledger.transact(WARM, _raise, T0_MS)
    if decision is None:
        raise LookupError("nothing was raised")
    return decision.alarm


def _keep(ledger: Ledger, made: Alarm) -> None:
    ledger.transact(made.key, lambda _: Decision(made, ()), T0_MS)


def _added(batch: int | None = None) -> NewEntry:
    return NewEntry(batch, EntryKind.ADDED, T0_MS, "ada", {"crop": "corms", "count": 300})


def test_entries_come_back_as_they_were_written(ledger: Ledger) -> None:
    """Entries written together share a group; each new batch has a number of its own."""
    first = ledger.write_entries(lambda _: [_added(), _added()], T0_MS + 1)
    second = ledger.write_entries(lambda old: [_added(old[0].batch)], T0_MS + 2)
    assert ledger.entries() == first + second
    assert [each.batch for each in ledger.entries()] == [1, 2, 1]
    assert [each.group for each in ledger.entries()] == [1, 1, 2]
    assert first[0] == LedgerEntry(
        1, 1, 1, EntryKind.ADDED, T0_MS, T0_MS + 1, "ada", {"crop": "corms", "count": 300}
    )


def test_a_rule_that_refuses_leaves_nothing(ledger: Ledger) -> None:
    """When a builder raises, no entry is written and its error reaches the caller."""

    def refuse(_: Sequence[LedgerEntry]) -> Sequence[NewEntry]:
        raise LedgerRuleError("500 stems cannot be taken from a batch of 300")

    with pytest.raises(LedgerRuleError, match="500 stems"):
        ledger.write_entries(refuse, T0_MS)
    assert ledger.write_entries(lambda _: [], T0_MS) == []
    assert ledger.entries() == []


def test_an_entry_that_cannot_be_written_takes_its_group_along(ledger: Ledger) -> None:
    """Half of a group is never there."""
    bad = replace(_added(), data={"count": float("inf")})
    with pytest.raises(ValueError, match="JSON"):
        ledger.write_entries(lambda _: [_added(), bad], T0_MS)
    with pytest.raises(StoreError, match=r"ledger\.db"):
        ledger.write_entries(lambda _: [_added(), _added(99)], T0_MS)
    assert ledger.entries() == []


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE entries SET by = 'eve'", "DELETE FROM entries",
        "UPDATE audit SET note = ''", "DELETE FROM audit",
        "UPDATE attempts SET error = ''", "DELETE FROM attempts",
        "UPDATE configurations SET digest = ''", "DELETE FROM configurations",
        "UPDATE batches SET given_ms = 0", "DELETE FROM batches",
        "UPDATE groups SET recorded_ms = 0", "DELETE FROM groups",
        "DELETE FROM alarms", "DELETE FROM outbox",
    ],
)  # fmt: skip
def test_what_is_written_once_stays(ledger: Ledger, statement: str) -> None:
    """No program that opens the file can change or remove what is append-only."""
    ledger.write_entries(lambda _: [_added()], T0_MS)
    _raised(ledger)
    ledger.accept_configuration({"farm.toml": "x"}, "d1", T0_MS, "ada")
    other = sqlite3.connect(ledger.path)
    with pytest.raises(sqlite3.IntegrityError):
        other.execute(statement)
    other.close()


def test_a_decision_is_written_whole(ledger: Ledger) -> None:
    """Alarm, audit line, notice and how far was judged come back as decided, with ids."""
    decision = ledger.transact(WARM, _raise, T0_MS, judged_to_ms=T0_MS + 5)
    assert decision is not None
    assert decision.alarm == replace(alarm(), id=1)
    assert decision.notices == (replace(notice(), id=1, alarm=1),)
    assert ledger.alarms() == [decision.alarm]
    assert ledger.audit(1) == [line()]
    assert ledger.notices() == list(decision.notices)
    assert ledger.judged_to() == T0_MS + 5


def test_deciding_nothing_still_notes_how_far_was_judged(ledger: Ledger) -> None:
    """A decision of None writes the time judged to and no more."""
    assert ledger.transact(WARM, lambda _: None, T0_MS, judged_to_ms=T0_MS + 9) is None
    assert ledger.judged_to() == T0_MS + 9
    assert ledger.alarms() == []


def test_a_decider_that_fails_leaves_nothing(ledger: Ledger) -> None:
    """Neither the alarm nor the time judged to is written when deciding raises."""

    def fail(_: Alarm | None) -> Decision | None:
        raise LedgerRuleError("no")

    with pytest.raises(LedgerRuleError):
        ledger.transact(WARM, fail, T0_MS, judged_to_ms=T0_MS)
    assert ledger.judged_to() is None
    assert _raised(ledger).id == 1


def test_an_alarm_that_is_normal_again_is_not_reopened(ledger: Ledger) -> None:
    """The open row of a key is handed to the decider; a closed one is not, and has its id."""
    first = _raised(ledger)
    assert ledger.transact(WARM, _raise, T0_MS) is None
    closed = replace(first, state=AlarmState.NORMAL, returned_ms=T0_MS + 7)
    ledger.transact(WARM, lambda _: Decision(closed, (line(AlarmState.NORMAL),)), T0_MS)
    assert ledger.alarms(open_only=True) == []
    assert ledger.alarm(first.id) == closed
    second = _raised(ledger)
    assert second.id == first.id + 1
    assert ledger.alarms() == [second, closed]
    assert [each.after for each in ledger.audit(first.id)] == ["unacknowledged", "normal"]


def test_every_open_alarm_is_returned_however_many_there_are(ledger: Ledger) -> None:
    """The oldest, which may be the gravest, is not hidden behind hundreds of later ones."""
    oldest = _raised(ledger)
    for number in range(250):
        key = AlarmKey(AlarmKind.SENSOR_SILENT, f"sensor-{number}")
        _keep(ledger, replace(alarm(AlarmState.SUPPRESSED, key), place="tunnel"))
    assert ledger.alarms(open_only=True)[-1] == oldest
    assert len(ledger.alarms(open_only=True)) == 251
    assert len(ledger.alarms()) == 200
    assert ledger.alarms(open_only=True, place="walk-in-cooler") == [oldest]
    assert ledger.open_counts() == {AlarmState.UNACKNOWLEDGED: 1, AlarmState.SUPPRESSED: 250}


def test_a_key_never_has_two_open_rows(ledger: Ledger) -> None:
    """Even a decider that ignores the open row cannot add a second."""
    _raised(ledger)
    with pytest.raises(StoreError, match="UNIQUE"):
        ledger.transact(WARM, lambda _: Decision(alarm(), (line(),)), T0_MS)
    assert len(ledger.alarms()) == 1


def test_an_alarm_is_decided_by_its_number(ledger: Ledger) -> None:
    """A command names the row; a number nobody gave is an error."""
    seen = _raised(ledger)
    known = replace(seen, state=AlarmState.ACKNOWLEDGED, acknowledged_by="ada")
    ledger.transact_id(seen.id, lambda _: Decision(known, ()), T0_MS)
    assert ledger.alarm(seen.id) == known
    with pytest.raises(UnknownNameError, match="no alarm 77"):
        ledger.transact_id(77, lambda _: None, T0_MS)
    with pytest.raises(UnknownNameError, match="no alarm 77"):
        ledger.alarm(77)


def test_notices_wait_until_due_and_keep_each_try(ledger: Ledger) -> None:
    """A failed try moves the time due; a sent one is done; each leaves a line."""
    early, late = ledger.add_notices(
        [notice(None), replace(notice(None), due_ms=T0_MS + 500, address="2")]
    )
    assert ledger.waiting(T0_MS) == [early]
    assert ledger.next_due() == T0_MS
    tried = ledger.record_attempt(
        early.id, T0_MS, sent=False, error="x" * 900, retry_at_ms=T0_MS + 9
    )
    assert (tried.status, tried.attempts, tried.due_ms) == (NoticeStatus.WAITING, 1, T0_MS + 9)
    assert len(tried.last_error) == 500
    assert ledger.waiting(T0_MS + 8) == []
    sent = ledger.record_attempt(early.id, T0_MS + 9, sent=True)
    assert (sent.status, sent.attempts, sent.sent_ms) == (NoticeStatus.SENT, 2, T0_MS + 9)
    failed = ledger.record_attempt(late.id, T0_MS + 500, sent=False, error="refused")
    assert failed.status is NoticeStatus.FAILED
    assert ledger.next_due() is None
    assert ledger.notices() == [failed, sent]
    lines = ledger._connection.execute("SELECT notice, status FROM attempts").fetchall()
    assert lines == [
        (1, "waiting"), (2, "waiting"), (1, "waiting"), (1, "sent"), (2, "failed"),
    ]  # fmt: skip
    with pytest.raises(UnknownNameError, match="no notice 9"):
        ledger.record_attempt(9, T0_MS, sent=True)


def test_a_clearing_can_ask_whether_its_raise_went_out(ledger: Ledger) -> None:
    """Only an address that was really told of an alarm is told that it is over."""
    raised = _raised(ledger)
    assert not ledger.raise_sent(raised.id, "ada", "1")
    ledger.record_attempt(1, T0_MS, sent=True)
    assert ledger.raise_sent(raised.id, "ada", "1")
    assert not ledger.raise_sent(raised.id, "ada", "2")
    (clearing,) = ledger.add_notices([notice(raised.id, NoticeKind.CLEARED)])
    dropped = ledger.drop_notice(clearing.id, T0_MS, "never told")
    assert dropped.status is NoticeStatus.DROPPED
    assert ledger.notices_of(raised.id)[-1] == dropped


def test_configurations_are_kept_whole(ledger: Ledger) -> None:
    """What was in force can be read later; the same files again add nothing."""
    texts = {"farm.toml": 'name = "Hæg"\n', "crops.toml": ""}
    assert ledger.accept_configuration(texts, "d1", T0_MS, "ada")
    assert not ledger.accept_configuration(texts, "d1", T0_MS + 1, "ada")
    assert ledger.accept_configuration({}, "d2", T0_MS + 2, "ada")
    assert ledger.accept_configuration(texts, "d1", T0_MS + 3, "bo")
    kept = ledger.configurations()
    assert [each.digest for each in kept] == ["d1", "d2", "d1"]
    assert kept[0].texts == texts
    assert (kept[2].at_ms, kept[2].by) == (T0_MS + 3, "bo")


def test_small_facts_are_kept_under_keys(ledger: Ledger) -> None:
    """A JSON value is kept until it is replaced."""
    assert ledger.get("morning") is None
    ledger.put("morning", {"day": "2026-11-25"})
    ledger.put("morning", [1, 2.5, None])
    assert ledger.get("morning") == [1, 2.5, None]
    ledger.set_judged_to(T0_MS)
    assert ledger.judged_to() == T0_MS


def test_another_writer_is_noticed(ledger: Ledger) -> None:
    """The version moves when another has written, and not for one's own writes."""
    before = ledger.data_version()
    ledger.put("a", 1)
    assert ledger.data_version() == before
    other = Ledger.open(ledger.path)
    other.put("a", 2)
    assert ledger.data_version() != before


def test_threads_share_one_ledger(ledger: Ledger) -> None:
    """Many threads deciding about one key raise one alarm, and each decision is whole."""
    with ThreadPoolExecutor(8) as pool:
        decisions = list(pool.map(lambda _: ledger.transact(WARM, _raise, T0_MS), range(64)))
    assert sum(each is not None for each in decisions) == 1
    assert len(ledger.alarms()) == len(ledger.notices()) == len(ledger.audit(1)) == 1


_WRITE = """
import sys
from pathlib import Path
from monitor.model import EntryKind, NewEntry
from monitor.store import Ledger
ledger = Ledger.open(Path(sys.argv[1]))
for _ in range(60):
    def build(old):
        batch = 1 if any(each.batch == 1 for each in old) else None
        return [NewEntry(batch, EntryKind.OBSERVED, 0, sys.argv[2], {"seen": len(old)})]
    ledger.write_entries(build, 0)
"""


def test_several_processes_write_by_turns(tmp_path: Path) -> None:
    """Each entry was built from all that stood before it, whoever wrote that."""
    path = tmp_path / "ledger.db"
    root = Path(__file__).parents[2]
    running = [
        subprocess.Popen([sys.executable, "-c", _WRITE, str(path), name], cwd=root)
        for name in ("ada", "bo")
    ]
    assert [process.wait(timeout=60) for process in running] == [0, 0]
    entries = Ledger.open(path).entries()
    assert [each.data["seen"] for each in entries] == list(range(120))
    assert [each.by for each in entries].count("ada") == 60
    assert {each.batch for each in entries} == {1}


def test_many_may_open_a_new_ledger_at_once(tmp_path: Path) -> None:
    """A file that several make at the same moment is opened by each of them."""
    for turn in range(10):
        path = tmp_path / str(turn) / "ledger.db"
        with ThreadPoolExecutor(8) as pool:
            for ledger in pool.map(lambda _, at=path: Ledger.open(at), range(8)):
                ledger.close()


def test_a_number_no_row_can_have_names_no_alarm(ledger: Ledger) -> None:
    """A number past the database's integers is an unknown alarm like any other."""
    with pytest.raises(UnknownNameError, match="there is no alarm"):
        ledger.alarm(10**23)


def test_a_kept_value_is_changed_whole_or_not_at_all(tmp_path: Path) -> None:
    """What is kept is given to the change, None at first; one that raises writes nothing."""
    ledger = Ledger.open(tmp_path / "ledger.db")
    ledger.alter("tries", lambda kept: (kept or 0) + 1)
    ledger.alter("tries", lambda kept: (kept or 0) + 1)
    with pytest.raises(ZeroDivisionError):
        ledger.alter("tries", lambda kept: kept / 0)
    assert ledger.get("tries") == 2
    ledger.close()
