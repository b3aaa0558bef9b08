"""The outbox sent: one worker an address, waits that grow, results kept."""

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from pydantic import SecretStr

from monitor.courier import Courier, Limits, addresses_of
from monitor.courier.transport import failed
from monitor.courier.worker import WAITS_S, Worker
from monitor.errors import StoreError
from monitor.model import (
    Alarm,
    AlarmKey,
    AlarmKind,
    AlarmState,
    Decision,
    Notice,
    NoticeKind,
    NoticeStatus,
    Priority,
)
from monitor.store import Ledger
from tests.courier.made import NOW_MS, Box, HandClock, notice

ONE, TWO = SecretStr("box://one"), SecretStr("box://two")
DEAD = failed("A Connection error occurred")
WAITING, SENT = NoticeStatus.WAITING, NoticeStatus.SENT


class Bench:
    """A courier without its threads: each round is run by hand."""

    def __init__(self, path: Path, clock: HandClock) -> None:
        self.box = Box()
        self.clock = clock
        self.ledger = Ledger.open(path)
        self.told: list[Notice] = []
        self.courier = Courier(
            lambda: self.ledger, addresses_of({"rue": [ONE, TWO]}), clock, self.told.append,
            on_failed=self.told.append, transport=self.box, monotonic=clock.monotonic,
        )  # fmt: skip
        self.courier.prepare()

    def put(self, *notices: Notice) -> list[int]:
        """Write notices into the outbox; return their ids."""
        return [each.id for each in self.ledger.add_notices(notices)]

    def go(self, worker: int = 0) -> None:
        """Let one worker send what it has, each send to its end."""
        chosen: Worker = self.courier.workers[worker]
        for _ in range(40):
            chosen.round()
            chosen.land(5)

    def row(self, notice_id: int) -> Notice:
        """Return a notice as it stands."""
        return next(each for each in self.ledger.notices() if each.id == notice_id)

    def titles(self) -> list[str]:
        """Return the titles sent, in order."""
        return [part.title for _, part in self.box.sent]


@pytest.fixture
def clock() -> HandClock:
    """Return a clock set by hand."""
    return HandClock()


@pytest.fixture
def bench(tmp_path: Path, clock: HandClock) -> Iterator[Bench]:
    """Return a courier with two addresses of one person."""
    made = Bench(tmp_path / "ledger.db", clock)
    yield made
    made.ledger.close()


def test_addresses_are_named_by_their_order() -> None:
    """The first address of a person is "1"."""
    assert addresses_of({"rue": [ONE, TWO]}) == {("rue", "1"): ONE, ("rue", "2"): TWO}


def test_a_due_notice_is_sent_and_told(bench: Bench) -> None:
    """What is due goes out once, is marked sent, and its sending is told."""
    (first,) = bench.put(notice())
    bench.go()
    assert bench.titles() == ["Walk-in cooler is too warm"]
    assert (bench.row(first).status, bench.row(first).attempts) == (SENT, 1)
    assert [each.id for each in bench.told] == [first]


def test_a_notice_waits_until_it_is_due(bench: Bench, clock: HandClock) -> None:
    """Quiet hours hold a notice back by its due time, in judged time."""
    bench.put(notice(due_ms=NOW_MS + 60_000))
    bench.go()
    assert bench.box.sent == []
    clock.advance(60)
    bench.go()
    assert len(bench.box.sent) == 1


def test_a_dead_address_is_retried_alone(bench: Bench, clock: HandClock) -> None:
    """Of two addresses only the failing one is tried again, and each has its own result."""
    bench.box.answers["box://one"] = DEAD
    first, second = bench.put(notice(address="1"), notice(address="2"))
    bench.go(0)
    bench.go(1)
    assert (bench.row(first).status, bench.row(first).last_error) == (WAITING, DEAD.error)
    assert bench.row(second).status == SENT
    del bench.box.answers["box://one"]
    clock.advance(WAITS_S[0])
    bench.go(0)
    bench.go(1)
    assert bench.row(first).status == SENT
    assert [name for name, _ in bench.box.sent] == ["box://one", "box://two", "box://one"]


@pytest.mark.parametrize("rate", [1.0, 60.0])
def test_waits_grow_in_real_time(bench: Bench, clock: HandClock, rate: float) -> None:
    """Tries come 15 s, 1, 2, 5, 10, 15 and 15 min after one another by a real watch."""
    clock.rate = rate
    bench.box.answers["box://one"] = DEAD
    bench.put(notice())
    bench.go()
    for tries, wait_s in enumerate([*WAITS_S, WAITS_S[-1]], start=1):
        assert len(bench.box.sent) == tries
        clock.advance(wait_s - 1)
        bench.go()
        assert len(bench.box.sent) == tries
        clock.advance(1)
        bench.go()
    assert len(bench.box.sent) == 8


def test_a_new_alarm_is_tried_at_once_on_a_failing_address(bench: Bench) -> None:
    """A fresh notice does not wait for the retry of an old one."""
    bench.box.answers["box://one"] = DEAD
    bench.put(notice(title="old"))
    bench.go()
    bench.put(notice(title="new"))
    bench.go()
    assert bench.titles() == ["old", "new"]


def test_a_clock_set_back_holds_back_nothing_grave(bench: Bench, clock: HandClock) -> None:
    """A high notice written before the clock went back a day goes at once; a lesser one waits."""
    bench.put(notice(title="high"), notice(title="medium", priority="medium"))
    clock.now -= 86_400_000
    bench.go()
    assert bench.titles() == ["high"]


def test_a_clock_set_back_delays_no_retry(bench: Bench, clock: HandClock) -> None:
    """Retries run by real time: a clock that jumps back thirteen days holds none up."""
    bench.box.answers["box://one"] = DEAD
    bench.put(notice())
    bench.go()
    clock.now -= 13 * 86_400_000
    clock.advance(WAITS_S[0])
    bench.go()
    assert len(bench.box.sent) == 2


def _raised(bench: Bench) -> tuple[int, int]:
    """Write an alarm with its raise and its clearing; return the notices' ids."""
    alarm = Alarm(
        0, AlarmKey(AlarmKind.TOO_WARM, "cooler"), Priority.HIGH, AlarmState.UNACKNOWLEDGED,
        "cooler", None, None, (), NOW_MS, NOW_MS, None, None, None, 7.2, 5.0, 7.2, "t", "t",
    )  # fmt: skip
    decision = Decision(alarm, (), (notice(alarm=0), notice(NoticeKind.CLEARED, alarm=0)))
    bench.ledger.transact(alarm.key, lambda _: decision, NOW_MS)
    clearing, raising = (each.id for each in bench.ledger.notices())
    return raising, clearing


def test_a_clearing_follows_its_raise(bench: Bench) -> None:
    """Both are sent, the raise before its clearing."""
    raising, clearing = _raised(bench)
    bench.go()
    assert [each.id for each in bench.told] == [raising, clearing]
    assert bench.row(clearing).status == SENT


def test_a_clearing_is_dropped_where_its_raise_failed_for_good(bench: Bench) -> None:
    """A clearing whose raise was never sent is dropped and says why."""
    raising, clearing = _raised(bench)
    bench.ledger.record_attempt(raising, NOW_MS, sent=False, error="gone")
    bench.go()
    assert bench.row(clearing).status == NoticeStatus.DROPPED
    assert "never told" in bench.row(clearing).last_error
    assert bench.box.sent == []


def test_after_a_day_of_failing_a_notice_is_given_up(bench: Bench, clock: HandClock) -> None:
    """A hundred tries are enough; the notice is failed and told so."""
    bench.box.answers["box://one"] = DEAD
    (only,) = bench.put(notice())
    for _ in range(110):
        bench.courier.workers[0].round()
        bench.courier.workers[0].land(5)
        clock.advance(WAITS_S[-1])
    assert (bench.row(only).status, bench.row(only).attempts) == (NoticeStatus.FAILED, 100)


def test_no_address_is_a_failure_that_is_told(bench: Bench) -> None:
    """A notice for a person who is gone fails and says so, and nothing is sent."""
    (gone,) = bench.put(notice(address="7"))
    bench.courier.refuse_unmatched()
    bench.go()
    assert bench.row(gone).status == NoticeStatus.FAILED
    assert "no address matched" in bench.row(gone).last_error
    assert [each.id for each in bench.told] == [gone]
    assert bench.box.sent == []


def test_unusable_addresses_are_named_at_the_start(tmp_path: Path, clock: HandClock) -> None:
    """An address of no known service is told before anything is to be sent."""
    courier = Courier(
        tmp_path / "x.db", {("rue", "1"): SecretStr("nothing"), ("rue", "2"): ONE}, clock,
        transport=Box(),
    )  # fmt: skip
    assert list(courier.unusable()) == [("rue", "1")]


def test_a_refused_text_goes_in_its_short_form(bench: Bench) -> None:
    """Where the whole is refused the gist is sent at once, and counts as sent."""
    bench.box.taken = lambda part: "<" not in part.body + part.title
    (only,) = bench.put(notice(title="Cooler <back> is too warm"))
    bench.go()
    assert bench.titles() == ["Cooler <back> is too warm", "Cooler back is too warm"]
    assert bench.row(only).status == SENT


def test_a_long_text_goes_in_parts(bench: Bench) -> None:
    """A six-kilobyte list is sent in numbered parts as one notice."""
    bench.box.most = Limits(1024, 0)
    (only,) = bench.put(notice(title="x" * 3000))
    bench.go()
    assert bench.row(only).status == SENT
    assert all(len(part.title) + len(part.body) <= 1024 for _, part in bench.box.sent)


def test_a_result_that_could_not_be_written_is_not_sent_twice(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the ledger failing for a while, the message goes once and is recorded later."""
    (only,) = bench.put(notice())
    worker = bench.courier.workers[0]

    def full(*_: object, **__: object) -> Notice:
        raise StoreError("disk full")

    with monkeypatch.context() as patched:
        patched.setattr(bench.ledger, "record_attempt", full)
        worker.round()
        with pytest.raises(StoreError):
            worker.land(5)
        with pytest.raises(StoreError):
            worker.round()
    bench.go()
    assert len(bench.box.sent) == 1
    assert bench.row(only).status == SENT


def test_a_send_past_its_deadline_fails_and_holds_up_nobody_else(
    bench: Bench, clock: HandClock
) -> None:
    """A service that never answers fails at the deadline; only its own address waits."""
    bench.box.hangs["box://one"] = release = threading.Event()
    first, second = bench.put(notice(address="1"), notice(address="2"))
    worker = bench.courier.workers[0]
    worker.round()
    clock.advance(20)
    worker.round()
    assert bench.row(first).last_error == "no answer within 20 s"
    bench.go(1)
    assert bench.row(second).status == SENT
    clock.advance(WAITS_S[0])
    worker.round()
    assert bench.row(first).attempts == 1
    release.set()
    worker.land(5)
    assert (bench.row(first).status, bench.row(first).attempts) == (SENT, 2)
    assert len([name for name, _ in bench.box.sent if name == "box://one"]) == 1


def test_a_defect_of_a_service_is_its_own_failure(bench: Bench) -> None:
    """What a service raises becomes a failure whose text does not spell out the address."""

    def broken(_: object) -> bool:
        raise ValueError("box://one")

    bench.box.taken = broken
    (only,) = bench.put(notice())
    bench.go()
    assert bench.row(only).last_error == "the service failed with ValueError"


def test_a_drill_returns_its_result(bench: Bench) -> None:
    """A drill is sent at once, past the outbox, and its result comes back."""
    drill = notice(NoticeKind.DRILL, title="Drill")
    assert bench.courier.send_now(drill, ONE).sent
    bench.box.answers["box://two"] = DEAD
    assert bench.courier.send_now(drill, TWO) == DEAD
    assert bench.ledger.notices() == []


def test_it_starts_sends_and_stops(tmp_path: Path) -> None:
    """With its threads, a woken courier sends, and a stop ends every thread in time."""
    clock, box, done = HandClock(), Box(), threading.Event()
    path = tmp_path / "ledger.db"
    with_notice = Ledger.open(path)
    courier = Courier(
        path, {("rue", "1"): ONE}, clock, lambda _: done.set(), transport=box
    )  # fmt: skip
    courier.start()
    began = courier.alive
    with_notice.add_notices([notice()])
    courier.wake()
    assert done.wait(10)
    courier.stop(5)
    assert (began, courier.alive) == (True, False)
    with_notice.close()


# -- what belongs together -----------------------------------------------------------------


def _wrong(bench: Bench, kind: AlarmKind, priority: Priority, place: str = "cooler") -> int:
    """Write an alarm of a place with its raise to both addresses; return its id."""
    alarm = Alarm(
        0, AlarmKey(kind, place), priority, AlarmState.UNACKNOWLEDGED, place, None, None, (),
        bench.clock.now, bench.clock.now, None, None, None, None, None, None, kind.value, "Text.",
    )  # fmt: skip
    rows = tuple(
        notice(
            alarm=0,
            address=each,
            title=f"{place} {kind.value}",
            due_ms=bench.clock.now,
            priority=priority,
        )
        for each in "12"
    )
    decision = bench.ledger.transact(alarm.key, lambda _: Decision(alarm, (), rows), NOW_MS)
    assert decision is not None
    return decision.alarm.id


def _over(bench: Bench, alarm: int) -> None:
    """Write an alarm's clearing to both addresses."""
    bench.put(*(
        notice(
            NoticeKind.CLEARED, alarm=alarm, address=each, title="over", due_ms=bench.clock.now,
            priority="medium",
        )
        for each in "12"
    ))  # fmt: skip


def test_a_lesser_alarm_of_a_place_just_told_of_rings_nobody_again_at_once(
    bench: Bench, clock: HandClock
) -> None:
    """Thirty seconds after a high alarm of its place it waits four minutes, and goes unmarked."""
    _wrong(bench, AlarmKind.TOO_WARM, Priority.HIGH)
    bench.go()
    clock.advance(30)
    _wrong(bench, AlarmKind.TOO_WET, Priority.MEDIUM)
    bench.go()
    clock.advance(209)
    bench.go()
    assert bench.titles() == ["cooler too_warm"]
    clock.advance(2)
    bench.go()
    assert bench.titles() == ["cooler too_warm", "cooler too_wet"]


def test_what_waited_for_its_place_goes_with_the_next_of_it(bench: Bench, clock: HandClock) -> None:
    """Another high alarm of the place takes along what waits, in one message under its title."""
    _wrong(bench, AlarmKind.TOO_WARM, Priority.HIGH)
    bench.go()
    clock.advance(30)
    _wrong(bench, AlarmKind.TOO_WET, Priority.MEDIUM)
    _wrong(bench, AlarmKind.DOOR_OPEN, Priority.MEDIUM)
    _wrong(bench, AlarmKind.MAINS_LOST, Priority.HIGH)
    bench.go()
    assert bench.titles() == ["cooler too_warm", "cooler mains_lost; and 2 more"]
    body = bench.box.sent[-1][1].body
    assert "cooler too_wet" in body
    assert "cooler door_open" in body


def test_an_alarm_over_while_it_waited_for_its_place_is_not_told(
    bench: Bench, clock: HandClock
) -> None:
    """Neither its raise nor its clearing goes; both say why in the outbox."""
    _wrong(bench, AlarmKind.TOO_WARM, Priority.HIGH)
    bench.go()
    clock.advance(30)
    second = _wrong(bench, AlarmKind.TOO_WET, Priority.MEDIUM)
    clock.advance(60)
    _over(bench, second)
    bench.go()
    clock.advance(600)
    bench.go()
    assert bench.titles() == ["cooler too_warm"]
    mine = [each for each in bench.ledger.notices_of(second) if each.address == "1"]
    assert [each.status for each in mine] == [NoticeStatus.DROPPED] * 2
    assert [each.last_error for each in mine] == [
        "over before anybody was to be told", "the alarm itself was never told here",
    ]  # fmt: skip


def test_other_places_and_grave_alarms_wait_for_nothing(bench: Bench, clock: HandClock) -> None:
    """A high alarm of the place, and any of another, go at once; so does each other address."""
    _wrong(bench, AlarmKind.TOO_WARM, Priority.HIGH)
    bench.go()
    clock.advance(30)
    _wrong(bench, AlarmKind.TOO_COLD, Priority.HIGH)
    _wrong(bench, AlarmKind.TOO_WET, Priority.MEDIUM, "room")
    bench.go()
    assert bench.titles() == ["cooler too_warm", "cooler too_cold", "room too_wet"]
    bench.go(1)
    assert bench.titles()[3:] == ["cooler too_warm; and 1 more", "room too_wet"]


def test_a_flood_is_one_message_with_the_gravest_first(bench: Bench, clock: HandClock) -> None:
    """Six alarms of three places at once: one message, the high one's title, then by gravity."""
    _wrong(bench, AlarmKind.TOO_WET, Priority.MEDIUM, "room")
    for place in ("bucket", "room", "cooler"):
        _wrong(bench, AlarmKind.SENSOR_SILENT, Priority.MEDIUM, place)
    _wrong(bench, AlarmKind.TOO_WARM, Priority.HIGH, "cooler")
    _wrong(bench, AlarmKind.TOO_COLD, Priority.HIGH, "room")
    bench.go()
    assert bench.titles() == ["cooler too_warm; and 5 more"]
    said = [each.split("\n")[0] for each in bench.box.sent[0][1].body.split("\n\n")]
    assert said[:2] == ["cooler too_warm", "room too_cold"]
    assert len(said) == 6
    assert clock.now == NOW_MS
