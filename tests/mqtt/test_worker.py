"""From messages to stored readings, acknowledged after the commit."""

import asyncio
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

import pytest

from monitor.intake import Decoded
from monitor.model import Flag, Message, Reading
from monitor.mqtt.preparing import Preparing, Stamps
from monitor.mqtt.redelivery import Window, checksum
from monitor.mqtt.worker import PACK, IntakeWorker, Taken, Told
from tests.mqtt.fakes import FakeDecoder, FakeSource, FakeStamper, FakeStore, message


@dataclass
class Bench:
    """A worker among fakes, and what it told."""

    source: FakeSource = field(default_factory=FakeSource)
    store: FakeStore = field(default_factory=FakeStore)
    taken: list[Taken] = field(default_factory=list)
    told: list[str] = field(default_factory=list)
    window: Sequence[tuple[int, int]] = ()
    stamper: Stamps = field(default_factory=FakeStamper)

    def worker(self, *, patience_s: float = 10.0) -> IntakeWorker:
        """Return a worker that does not wait between its tries."""
        told = Told(self.taken.append, self.told.append, lambda: self.told.append("back"))
        return IntakeWorker(
            self.source, self.store, told, FakeDecoder(), self.stamper, self.window,
            patience_s=patience_s, retry_s=0.0,
        )  # fmt: skip

    def run(
        self, worker: IntakeWorker, until: Callable[[], bool], *give: Sequence[Message]
    ) -> None:
        """Run the worker until something holds, letting messages arrive one pack a time."""

        async def main() -> None:
            task = asyncio.create_task(worker.run())
            for pack in give:
                await asyncio.sleep(0)
                self.source.give(*pack)
                more = len(self.taken) + 1
                await _until(partial(self._has_taken, more), task)
            await _until(until, task)
            task.cancel()
            with pytest.raises(asyncio.CancelledError):
                await task

        asyncio.run(asyncio.wait_for(main(), 20))

    def _has_taken(self, packs: int) -> bool:
        return len(self.taken) >= packs


async def _until(holds: Callable[[], bool], task: "asyncio.Task[None]") -> None:
    while not holds() and not task.done():  # noqa: ASYNC110  # looks at a plain list
        await asyncio.sleep(0)


def test_readings_are_committed_then_acknowledged_then_handed_on() -> None:
    """What is acknowledged is stored; what is handed on is stored and acknowledged."""
    bench = Bench()
    sent = [message(n, b"4.%d" % n) for n in range(1, 6)]
    bench.run(bench.worker(), lambda: bool(bench.taken), sent)
    assert bench.store.values == [4.1, 4.2, 4.3, 4.4, 4.5]
    assert bench.source.acknowledged == sent
    assert [each.raw for each in bench.taken[0].readings] == bench.store.values
    assert bench.taken[0].stored


def test_every_message_is_acknowledged_in_order_of_arrival() -> None:
    """Unclaimed, defective, retained and our own messages are acknowledged too."""
    bench = Bench()
    sent = [
        message(1),
        message(2, topic="elsewhere"),
        message(3, b"boom"),
        message(4, retained=True),
        message(5, topic="cormwatch/farm/fence"),
        message(6, b"4.6"),
    ]
    worker = bench.worker()
    bench.run(worker, lambda: bool(bench.taken), sent)
    assert bench.source.acknowledged == sent
    assert bench.store.values == [4.1, 4.6]
    (commit,) = bench.store.commits
    assert [(each.topic, each.count) for each in commit.unclaimed] == [("elsewhere", 1)]
    assert [each.reason for each in commit.refusals] == ["defect"]
    assert [each.raw for each in bench.taken[0].last_known] == [4.1]
    assert worker.counts.messages == 6


def test_a_commit_carries_the_window_and_who_was_heard() -> None:
    """The ids and checksums of a pack are written with its readings."""
    bench = Bench()
    sent = [message(1, received_ms=5_000), message(2, b"4.2", received_ms=6_000)]
    bench.run(bench.worker(), lambda: bool(bench.taken), sent)
    (commit,) = bench.store.commits
    assert list(commit.window) == [(each.message_id, checksum(each)) for each in sent]
    assert commit.clear_window
    assert commit.heard == {"shed": 6_000}


def test_a_redelivery_is_acknowledged_and_not_stored() -> None:
    """What an earlier run stored and could not acknowledge is answered now."""
    again = message(7, duplicate=True, resumed=True)
    bench = Bench(window=[(7, checksum(again))])
    worker = bench.worker()
    bench.run(worker, lambda: bool(bench.taken), [again, message(8, b"4.8", resumed=True)])
    assert bench.store.values == [4.8]
    assert bench.source.acknowledged[0] == again
    assert worker.counts.redelivered == 1


def test_a_burst_is_taken_in_packs_of_bounded_size() -> None:
    """At most 2,000 messages make one transaction."""
    bench = Bench()
    bench.source.waiting = [message(n % 60_000 + 1) for n in range(PACK + 5)]
    bench.run(bench.worker(), lambda: len(bench.taken) == 2)
    assert [len(work.window) for work in bench.store.commits] == [PACK, 5]


def test_a_short_failure_of_the_store_loses_nothing() -> None:
    """Nothing is acknowledged or handed on before the store takes it."""
    bench = Bench()
    bench.store.broken = True
    worker = bench.worker()
    bench.source.waiting = [message(1)]
    unanswered: list[int] = []

    def mended() -> bool:
        unanswered.append(len(bench.source.acknowledged) + len(bench.taken))
        if len(unanswered) > 50:
            bench.store.broken = False
        return bool(bench.taken)

    bench.run(worker, mended)
    assert max(unanswered[:50]) == 0
    assert bench.taken[0].stored
    assert bench.told == []
    assert bench.store.values == [4.1]


def test_a_store_that_stays_broken_does_not_stop_the_hearing() -> None:
    """After the patience readings go on unstored, acknowledged, told, and as a gap."""
    bench = Bench()
    bench.store.broken = True
    worker = bench.worker(patience_s=0.0)
    first, second, third = message(1), message(2, b"4.2"), message(3, b"4.3")

    def mend() -> bool:
        bench.store.broken = False
        return True

    bench.run(worker, mend, [first], [second])
    assert [taken.stored for taken in bench.taken] == [False, False]
    assert [each.raw for taken in bench.taken for each in taken.readings] == [4.1, 4.2]
    assert bench.source.acknowledged == [first, second]
    assert bench.told == ["readings.db cannot grow: the disk is full; free some space"]
    assert worker.counts.unstored == 2
    assert worker.failing

    bench.run(worker_again(bench, worker), lambda: "back" in bench.told, [third])
    assert bench.store.values == [4.3]
    gaps = [gap for work in bench.store.commits for gap in work.gaps]
    assert [(gap.from_ms, gap.to_ms, gap.count) for gap in gaps] == [(1_000, 1_000, 2)]


def worker_again(bench: Bench, worker: IntakeWorker) -> IntakeWorker:
    """Return a fresh worker that goes on from where another was stopped."""
    fresh = bench.worker()
    fresh.owed = worker.owed
    return fresh


def test_a_reading_no_commit_takes_is_refused_and_the_others_are_kept() -> None:
    """A defect in one reading costs that reading, visibly, and nothing else."""
    bench = Bench()
    bench.store.poison = 4.2
    sent = [message(n, b"4.%d" % n) for n in range(1, 6)]
    bench.run(bench.worker(), lambda: bool(bench.taken), sent)
    assert bench.store.values == [4.1, 4.3, 4.4, 4.5]
    assert bench.source.acknowledged == sent
    refusals = [each for work in bench.store.commits for each in work.refusals]
    assert [(each.reason, each.payload) for each in refusals] == [("defect", b"4.2")]
    assert bench.taken[0].stored


def test_a_listener_that_fails_does_not_end_the_intake() -> None:
    """The intake goes on after an exception in whoever takes its readings."""
    bench = Bench()
    worker = bench.worker()
    calls: list[int] = []

    def broken(_taken: Taken) -> None:
        calls.append(1)
        if len(calls) == 1:
            raise RuntimeError("a defect of the watch")
        bench.taken.append(_taken)

    worker.told = replace(worker.told, taken=broken)
    bench.source.waiting = [message(n) for n in range(1, PACK + 2)]
    bench.run(worker, lambda: bool(bench.taken))
    assert worker.counts.defects == 1
    assert len(bench.source.acknowledged) == PACK + 1


def test_what_is_done_in_the_writer_is_done_in_its_one_thread() -> None:
    """Whoever needs the store or the stamper goes where they are used."""
    bench = Bench()
    worker = bench.worker()

    async def names() -> set[str]:
        return {await worker.in_writer(lambda: threading.current_thread().name) for _ in range(3)}

    (name,) = asyncio.run(names())
    assert name.startswith("readings-writer")


class BrokenStamper:
    """A stamper with a defect."""

    def stamp(self, readings: Sequence[Reading]) -> list[Reading]:
        """Fail."""
        raise RuntimeError(f"a defect with {len(readings)} readings")


def test_a_defect_in_stamping_ends_in_visible_refusals() -> None:
    """Readings that cannot be stamped are refused and acknowledged, and the intake lives."""
    bench = Bench(stamper=BrokenStamper())
    bench.run(bench.worker(), lambda: bool(bench.taken), [message(1)])
    assert bench.store.values == []
    assert [each.reason for each in bench.store.commits[0].refusals] == ["defect"]
    assert bench.source.acknowledged == [message(1)]


def heard(given: Message) -> dict[str, int]:
    """Return whom one message lets be heard, and when."""
    preparing = Preparing(FakeDecoder(), FakeStamper(), Window(), lambda _topic: False)
    return preparing.prepare([given]).heard


def test_only_what_is_fresh_counts_as_hearing_a_sensor() -> None:
    """Retained and queued words without a time of their own reset no silence."""
    assert heard(message(received_ms=9_000)) == {"shed": 9_000}
    assert heard(message(retained=True, received_ms=9_000)) == {}
    assert heard(message(queued=True, received_ms=9_000)) == {}


def test_a_queued_reading_with_its_own_time_counts_from_then() -> None:
    """A device time says when the sensor last spoke."""

    class Clocked(FakeDecoder):
        def decode(self, given: Message) -> Decoded:
            decoded = super().decode(given)
            own = replace(decoded.readings[0], at_ms=4_000, flags=Flag.DEVICE_TIME)
            return decoded._replace(readings=[own])

    preparing = Preparing(Clocked(), FakeStamper(), Window(), lambda _topic: False)
    pack = preparing.prepare([message(queued=True, received_ms=9_000)])
    assert pack.heard == {"shed": 4_000}
