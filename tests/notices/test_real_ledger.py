"""Watch, alarms and notices together over a real ledger."""

from collections.abc import Iterable, Iterator
from pathlib import Path

import pytest

from monitor.alarms import acknowledge, on_transition, wording
from monitor.model import AlarmState, Decision, NoticeKind, Transition
from monitor.notices import answer
from monitor.store import Ledger
from monitor.watch import begin, plan, settle
from tests.watch.made import MINUTE_MS, NORTH, START_MS, each, farm, pack, run

FARM = farm()
PLAN = plan(FARM, [])
WORDS = wording(FARM)
OUT = [float(m) for m in range(45)]


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    """Give a new ledger."""
    opened = Ledger.open(tmp_path / "ledger.db")
    yield opened
    opened.close()


def _write(ledger: Ledger, transitions: Iterable[Transition]) -> list[Decision | None]:
    return [
        ledger.transact(
            told.key,
            answer(
                on_transition(told, WORDS, told.at_ms), FARM.people, FARM.notices, FARM.zone,
                told.at_ms,
            ),
            told.at_ms,
        )
        for told in transitions
    ]  # fmt: skip


def _outbox(ledger: Ledger) -> list[tuple[NoticeKind, str, str]]:
    return sorted((row.kind, row.person, row.address) for row in ledger.notices())


def test_one_harmful_spell_is_one_alarm_told_and_cleared(ledger: Ledger) -> None:
    """A spell makes one row, two audit lines, and a raise and a clearing per address."""
    minutes = [float(m) for m in range(60)]
    _, told = run(begin(PLAN, START_MS), each(NORTH, minutes, [7.0] * 45 + [3.0] * 15))
    _write(ledger, told)
    (alarm,) = ledger.alarms()
    assert alarm.state is AlarmState.RETURNED_UNACKNOWLEDGED
    assert [line.after for line in ledger.audit(alarm.id)] == [
        AlarmState.UNACKNOWLEDGED,
        AlarmState.RETURNED_UNACKNOWLEDGED,
    ]
    assert _outbox(ledger) == [
        (kind, person, address)
        for kind in (NoticeKind.CLEARED, NoticeKind.RAISED)
        for person, address in (("ida", "1"), ("ida", "2"), ("max", "1"))
    ]


def test_a_transition_written_twice_is_one(ledger: Ledger) -> None:
    """The same raising, judged again after a kill, finds its row and adds nothing."""
    _, told = run(begin(PLAN, START_MS), each(NORTH, OUT, [7.0] * 45))
    first, second = _write(ledger, [*told, *told])
    assert first is not None
    assert second is None
    assert len(ledger.alarms()) == 1
    assert len(ledger.notices()) == 3


def test_a_kill_between_readings_and_ledger_is_one_notice(ledger: Ledger) -> None:
    """Readings kept and not yet judged: the restart tells once, and a second one nothing."""
    for restart in range(2):
        state = begin(PLAN, START_MS + 45 * MINUTE_MS, open_alarms=ledger.alarms(open_only=True))
        state, _ = run(state, [pack(NORTH, OUT, [7.0] * 45)])
        settled = settle(state, ledger.alarms(open_only=True), START_MS + 45 * MINUTE_MS)
        assert len(settled.transitions) == (1 if restart == 0 else 0)
        _write(ledger, settled.transitions)
    assert len(ledger.alarms()) == 1
    assert len(ledger.notices()) == 3


def test_a_stored_alarm_comes_back_as_it_was(ledger: Ledger) -> None:
    """What the store gives back restores the watch: the alarm returns with its peak."""
    _, told = run(begin(PLAN, START_MS), each(NORTH, OUT, [7.0] * 40 + [8.0] + [7.0] * 4))
    _write(ledger, told)
    state = begin(PLAN, START_MS + 45 * MINUTE_MS, open_alarms=ledger.alarms(open_only=True))
    state, _ = run(state, [pack(NORTH, OUT, [7.0] * 40 + [8.0] + [7.0] * 4)])
    settled = settle(state, ledger.alarms(open_only=True), START_MS + 45 * MINUTE_MS)
    _, ended = run(settled.state, each(NORTH, [46.0, 47.0, 48.0], [3.0] * 3))
    _write(ledger, ended)
    (alarm,) = ledger.alarms()
    assert (alarm.state, alarm.peak) == (AlarmState.RETURNED_UNACKNOWLEDGED, 8.0)


def test_acknowledging_twice_writes_one_line(ledger: Ledger) -> None:
    """The second acknowledgement leaves row, audit and outbox as they are."""
    _, told = run(begin(PLAN, START_MS), each(NORTH, OUT, [7.0] * 45))
    _write(ledger, told)
    (alarm,) = ledger.alarms()
    assert ledger.transact_id(alarm.id, acknowledge("ida", START_MS), START_MS) is not None
    assert ledger.transact_id(alarm.id, acknowledge("max", START_MS + 1), START_MS + 1) is None
    assert [line.by for line in ledger.audit(alarm.id)] == ["watch", "ida"]
    assert ledger.alarm(alarm.id).acknowledged_by == "ida"
    assert len(ledger.notices()) == 3
