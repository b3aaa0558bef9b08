"""The internet gone for forty minutes: what is told afterwards, by the real outbox."""

from pathlib import Path

from pydantic import SecretStr

from monitor.courier import Courier, addresses_of
from monitor.courier.transport import failed
from monitor.model import (
    Alarm,
    AlarmKey,
    AlarmKind,
    AlarmState,
    Decision,
    NoticeKind,
    NoticeStatus,
    Priority,
)
from monitor.store import Ledger
from tests.courier.made import NOW_MS, Box, HandClock, notice

ALARMS = 30
CLEARED = 7
GRAVE = 22
ONE = SecretStr("box://one")


class Phone:
    """A courier to one address over a ledger's file; it can be started anew."""

    def __init__(self, path: Path) -> None:
        self.path, self.box, self.clock = path, Box(), HandClock()
        self.start()

    def start(self) -> None:
        """Begin as a daemon does that has just been started."""
        self.ledger = Ledger.open(self.path)
        self.courier = Courier(
            lambda: self.ledger, addresses_of({"rue": [ONE]}), self.clock,
            transport=self.box, monotonic=self.clock.monotonic,
        )  # fmt: skip
        self.courier.prepare()

    def restart(self) -> None:
        """End without a word, and begin again."""
        self.ledger.close()
        self.start()

    def minutes(self, count: int) -> None:
        """Let minutes pass, the courier trying as it does."""
        for _ in range(count * 2):
            self.clock.advance(30)
            self.courier.workers[0].round()
            self.courier.workers[0].land(5)

    def alarm(self, number: int) -> int:
        """Raise an alarm of a place of its own; return its id."""
        rank = Priority.HIGH if number == GRAVE else Priority.MEDIUM
        key, now_ms = AlarmKey(AlarmKind.TOO_WARM, f"place {number}"), self.clock.now
        alarm = Alarm(
            0, key, rank, AlarmState.UNACKNOWLEDGED, f"place {number}", None, None, (), now_ms,
            now_ms, None, None, None, None, None, None, f"alarm {number}", "Text.",
        )  # fmt: skip
        row = notice(alarm=0, title=f"alarm {number}", priority=rank, due_ms=now_ms)
        decision = self.ledger.transact(key, lambda _: Decision(alarm, (), (row,)), now_ms)
        assert decision is not None
        return decision.alarm.id


def test_thirty_alarms_of_an_outage_are_one_message_after_a_restart_too(tmp_path: Path) -> None:
    """Ordered, marked late, the gravest first; what is over stands with its raise, at the end."""
    phone = Phone(tmp_path / "ledger.db")
    phone.box.answers["box://one"] = failed("A Connection error occurred")
    ids = {}
    for number in range(1, ALARMS + 1):
        ids[number] = phone.alarm(number)
        phone.minutes(1)
        if number == CLEARED + 2:
            over = notice(
                NoticeKind.CLEARED, alarm=ids[CLEARED], title="alarm 7 is over",
                due_ms=phone.clock.now, priority="medium",
            )  # fmt: skip
            phone.ledger.add_notices([over])
        if number == ALARMS // 2:
            phone.restart()
    phone.minutes(10)
    phone.restart()
    del phone.box.answers["box://one"]
    phone.box.sent.clear()
    phone.minutes(1)
    text = "\n".join(part.body for _, part in phone.box.sent)
    titles = [part.title for _, part in phone.box.sent]
    assert {each.partition(" (")[0] for each in titles} == {"30 messages, up to 40 min late"}
    assert text.startswith("alarm 22 (")
    told = [int(line.split()[1]) for line in text.splitlines() if line.startswith("alarm ")]
    assert told == [GRAVE, *(n for n in range(1, ALARMS + 1) if n not in {GRAVE, CLEARED})]
    assert text.splitlines()[-1].endswith("alarm 7; then alarm 7 is over")
    statuses = {each.status for each in phone.ledger.notices()}
    assert statuses == {NoticeStatus.SENT}
    sent = len(phone.box.sent)
    phone.minutes(20)
    assert len(phone.box.sent) == sent
    assert phone.clock.now - NOW_MS < 65 * 60_000
    phone.ledger.close()
