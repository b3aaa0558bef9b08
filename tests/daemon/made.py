"""A judge over a real ledger and store, with a clock set by hand."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pydantic import SecretStr

from monitor.batches import fold
from monitor.daemon.costing import Costing
from monitor.daemon.judge import Judge
from monitor.daemon.opening import nothing_yet, restored
from monitor.farm import Farm, Person
from monitor.model import Channel, Flag, Reading
from monitor.store import Commit, Ledger, ReadingStore
from tests.watch import made
from tests.watch.made import MINUTE_MS, NORTH, START_MS


def farm(folder: Path, **more: Any) -> Farm:  # noqa: ANN401  # any field
    """Return the made-up farm in a folder, one person with one address."""
    people = {"ida": Person("ida", "Ida", (SecretStr("json://one"),))}
    fields: dict[str, Any] = {"directory": folder, "people": people}
    return made.farm(**(fields | more))


@dataclass
class HandClock:
    """Time as it is set; ``jump`` is what the system's clock jumped by."""

    now: int = START_MS
    jump: int = 0

    def now_ms(self) -> int:
        """Return the time. [ms]"""
        return self.now

    def step_ms(self) -> int:
        """Return the jump since last asked, and follow it. [ms]"""
        by_ms, self.jump = self.jump, 0
        self.now += by_ms
        return by_ms

    def real_seconds(self, judged_s: float) -> float:
        """Return the span itself. [s]"""
        return judged_s


def readings(
    minutes: Iterable[float], value_c: float, channel: Channel = NORTH,
    flags: Flag = Flag.DEVICE_TIME,
) -> list[Reading]:  # fmt: skip
    """Return readings of one value, each received as it was taken."""
    times = [START_MS + round(minute * MINUTE_MS) for minute in minutes]
    return [Reading(channel, at_ms, value_c, flags, at_ms) for at_ms in times]


@dataclass
class Post:
    """A farm's files, open, and a judge over them that may be started anew."""

    farm: Farm
    clock: HandClock = field(default_factory=HandClock)

    def __post_init__(self) -> None:
        self.store = ReadingStore.open(self.farm.data_dir / "readings.db")
        self.ledger = Ledger.open(self.farm.data_dir / "ledger.db")
        self.judge = self.start()

    def start(self) -> Judge:
        """Begin as a daemon does that has just been started."""
        now_ms, book = self.clock.now, fold(self.ledger.entries())
        state = nothing_yet(self.farm, now_ms)
        self.judge = Judge(
            self.farm, self.ledger, self.clock, book, state, reckon=Costing(self.store.reader)
        )
        self.judge.begin(restored(self.farm, book, self.store, self.ledger, now_ms))
        return self.judge

    def hear(self, taken: list[Reading]) -> None:
        """Store readings and judge them, at the time of the last."""
        self.clock.now = max(self.clock.now, taken[-1].received_ms)
        self.keep(taken)
        self.judge.readings(taken)

    def keep(self, taken: list[Reading]) -> None:
        """Store readings."""
        heard = {each.channel.sensor: each.received_ms for each in taken}
        self.store.commit(Commit(readings=taken, heard=heard))

    def close(self) -> None:
        """Close both files."""
        self.store.close()
        self.ledger.close()
