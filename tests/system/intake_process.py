"""A subscriber process: session, worker and store, to be killed by the tests.

Usage: python -m tests.system.intake_process PORT VERSION FILE [DIE_AFTER_COMMITS]
"""

import asyncio
import os
import signal
import sys
from dataclasses import dataclass
from pathlib import Path

from monitor.clock import SystemClock
from monitor.intake import Decoder, Stamper
from monitor.model import Quantity
from monitor.mqtt.session import Session
from monitor.mqtt.settings import Protocol, SessionSettings
from monitor.mqtt.worker import IntakeWorker, Taken, Told
from monitor.store import Commit, Committed, ReadingStore


@dataclass(frozen=True)
class Channel:
    """One channel of a made-up sensor."""

    quantity: Quantity
    path: str | None
    unit: str
    decimal_comma: bool = False


@dataclass(frozen=True)
class Sensor:
    """A made-up sensor."""

    id: str
    topic: str
    channels: tuple[Channel, ...]
    time_path: str | None = None


BARE = Sensor("shed", "shed/t", (Channel(Quantity.TEMPERATURE, None, "C"),))


@dataclass
class Dying:
    """A store after whose n-th commit with readings the process is gone, unacknowledged."""

    store: ReadingStore
    left: int

    def commit(self, work: Commit) -> Committed:
        """Commit, and die when it was the last."""
        done = self.store.commit(work)
        self.left -= bool(work.readings)
        if self.left == 0:
            os.kill(os.getpid(), signal.SIGKILL)
        return done


def _ignore(_taken: Taken) -> None:
    """Hand on to nobody."""


async def take_in(port: int, version: str, file: Path, die_after: int = -1) -> None:
    """Take readings in until the process is ended."""
    store = ReadingStore.open(file)
    reader = store.reader()
    newest = {channel: reading.received_ms for channel, reading in reader.newest().items()}
    window = reader.window()
    session = Session(
        SessionSettings(
            "127.0.0.1", port, "farm", protocol=Protocol(version), expect_session=bool(window),
            first_wait_s=0.05, longest_wait_s=0.2,
        ),
        SystemClock(),
    )  # fmt: skip
    worker = IntakeWorker(
        session, Dying(store, die_after), Told(_ignore), Decoder([BARE]), Stamper(newest), window
    )
    session.start()
    async with asyncio.TaskGroup() as group:
        group.create_task(worker.run())
        while not session.status().past_fence:  # noqa: ASYNC110  # another thread sets it
            await asyncio.sleep(0.01)
        file.with_suffix(".ready").touch()


if __name__ == "__main__":
    port, version, file, *rest = sys.argv[1:]
    asyncio.run(take_in(int(port), version, Path(file), *map(int, rest)))
