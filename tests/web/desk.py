"""A small desk of real parts: a starter farm, readings and a ledger on disk, a real watch."""

import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from monitor import alarms
from monitor.batches import Book, fold, open_batches
from monitor.batches.counts import Count
from monitor.batches.rules import Builder, Seen, Start, Writing, add, observe
from monitor.batches.sampling import parse_roots
from monitor.cli import main
from monitor.daemon.aside import Desk
from monitor.daemon.reconfiguring import reconfigure
from monitor.daemon.restoring import restore
from monitor.farm import Farm, load
from monitor.farm.editing import Change
from monitor.model import Answer, Channel, Flag, LedgerEntry, Quantity, Reading
from monitor.model.batch import Slip
from monitor.store import Commit, Ledger, ReadingReader, ReadingStore
from monitor.watch import WatchState
from monitor.web.changes import Changes
from monitor.web.desk import Health

NOW_MS = int(datetime(2026, 11, 25, 17, 0, tzinfo=UTC).timestamp() * 1000)
MINUTE_MS = 60_000
HOUR_MS = 60 * MINUTE_MS
DAY_MS = 24 * HOUR_MS
PEOPLE = """
[[person]]
id = "wren"
name = "Wren"

[[person]]
id = "robin"
name = "Robin"
"""
COOLER = Channel("cooler-door-side", Quantity.TEMPERATURE)
Course = Callable[[np.ndarray], np.ndarray]


@dataclass
class SmallDesk:
    """What the pages see of a monitor that is not running: the same parts, standing still."""

    folder: Path
    changes: Changes = field(default_factory=Changes)
    now: int = NOW_MS
    state_of_health: Health = field(
        default_factory=lambda: Health(
            ready=True, broker="connected", store="writable", counts={"messages": 12.0}
        )
    )

    def __post_init__(self) -> None:
        self._own = threading.local()
        data = self.folder / "data"
        data.mkdir(exist_ok=True)
        self.store = ReadingStore.open(data / "readings.db")
        self._ledger = Ledger.open(data / "ledger.db")
        self._readers: list[ReadingReader] = []
        self.judge()

    def judge(self) -> None:
        """Judge afresh what is stored, and write down what that tells."""
        self._farm = load(self.folder, environ={})
        self._book = fold(self._ledger.entries())
        restored = restore(
            self._farm, self._book, self.reader(), self.now,
            open_alarms=self._ledger.alarms(open_only=True),
            accepted=self._ledger.configurations(),
        )  # fmt: skip
        self._watch = restored.state
        words = alarms.wording(self._farm, open_batches(self._book), self._book.holds)
        for each in restored.transitions:
            decide = alarms.on_transition(each, words, self.now)
            self._ledger.transact(each.key, decide, self.now)

    def write(self, readings: Sequence[Reading]) -> None:
        """Store readings as the intake does."""
        heard = {each.channel.sensor: each.received_ms for each in readings}
        self.store.commit(Commit(readings=readings, heard=heard))

    def record(self, build: Builder, slip: Slip | None = None) -> Sequence[LedgerEntry]:
        """Write down what became of a batch, or of a loading."""
        written = self._ledger.write_entries(build, self.now, slip)
        self._book = fold(self._ledger.entries())
        return written

    def reconfigure(
        self, changes: Sequence[Change], *, by: str, why: str, digest: str | None,
        secrets: Mapping[str, str] | None = None,
    ) -> bool:  # fmt: skip
        """Change the farm's files and judge by them."""
        reconfigure(
            self.folder, self._ledger, changes, by=by, why=why, now_ms=self.now, digest=digest,
            secrets=secrets,
        )  # fmt: skip
        self.judge()
        return True

    def close(self) -> None:
        """Close the files."""
        for each in self._readers:
            each.close()
        self.store.close()
        self._ledger.close()

    @property
    def ledger(self) -> Ledger:
        """Return the ledger."""
        return self._ledger

    def farm(self) -> Farm:
        """Return the farm."""
        return self._farm

    def watch(self) -> WatchState:
        """Return the watch's state."""
        return self._watch

    def book(self) -> Book:
        """Return the book."""
        return self._book

    def reader(self) -> ReadingReader:
        """Return this thread's reader."""
        found: ReadingReader | None = getattr(self._own, "reader", None)
        if found is None:
            found = self._own.reader = ReadingReader(self.store.path)
            self._readers.append(found)
        return found

    def now_ms(self) -> int:
        """Return now."""
        return self.now

    def health(self) -> Health:
        """Return the health that was set."""
        return self.state_of_health

    def acknowledge(self, alarm_id: int, by: str, answer: Answer = Answer.SEEN) -> str:
        """Acknowledge an alarm in the ledger."""
        decide = alarms.acknowledge(by, self.now, answer)
        done = self._ledger.transact_id(alarm_id, decide, self.now)
        return f"alarm {alarm_id} is acknowledged by {by}" if done else "nothing changed"

    def put_aside(self, alarm_id: int, quiet: alarms.Quiet) -> str:
        """Put an alarm aside."""
        return Desk(self._farm, self._ledger, self._book).put_aside(alarm_id, quiet, self.now)

    def take_back(self, alarm_id: int, by: str) -> str:
        """End an alarm's being put aside."""
        desk = Desk(self._farm, self._ledger, self._book)
        return desk.take_back(alarm_id, alarms.take_back(by, self.now), by, self.now)


def starter_farm(folder: Path) -> Path:
    """Write the starter farm with two people, and return its folder."""
    code = main(["init", str(folder), "--yes", "--embedded"])
    if code:
        raise RuntimeError(f"init ended with {code}")
    (folder / "people.toml").write_text(PEOPLE, encoding="utf-8")
    return folder


def readings(
    channel: Channel, course: Course, hours: float = 30.0, every_ms: int = 2 * MINUTE_MS,
    until_ms: int = NOW_MS,
) -> list[Reading]:  # fmt: skip
    """Return readings of a channel that follow a course of hours before ``until_ms``."""
    at = np.arange(until_ms - int(hours * HOUR_MS), until_ms + 1, every_ms)
    values = course((at - until_ms) / HOUR_MS)
    return [
        Reading(channel, int(when), float(value), Flag.NONE, int(when))
        for when, value in zip(at, values, strict=True)
    ]


def steady(value: float, swing: float = 0.4) -> Course:
    """Return a course that cycles about a value, as a cooling does."""
    return lambda hours: np.round(value + swing * np.sin(hours * 9.0), 2)


def failing(value: float, since_h: float, per_h: float) -> Course:
    """Return a course that rises from an hour before now on."""
    calm = steady(value)
    return lambda hours: np.round(calm(hours) + np.maximum(hours + since_h, 0.0) * per_h, 2)


COURSES: Mapping[Channel, Course] = {
    COOLER: failing(3.3, 2.5, 1.6),
    Channel("cooler-door-side", Quantity.HUMIDITY): steady(92.0, 1.0),
    Channel("cooler-back", Quantity.TEMPERATURE): failing(3.0, 2.4, 1.5),
    Channel("sprouting-shelf", Quantity.TEMPERATURE): steady(8.6, 0.3),
    Channel("sprouting-shelf", Quantity.HUMIDITY): steady(88.0, 1.5),
    Channel("soak-water", Quantity.TEMPERATURE): steady(17.5, 0.2),
    Channel("tunnel-1-air", Quantity.TEMPERATURE): lambda h: np.round(
        9.0 - 6.0 * np.cos((h - 3.0) * np.pi / 12.0), 2
    ),
    Channel("tunnel-1-air", Quantity.HUMIDITY): steady(78.0, 4.0),
    Channel("tunnel-2-air", Quantity.TEMPERATURE): lambda h: np.round(
        2.5 - 4.0 * np.cos(h * np.pi / 12.0), 2
    ),
    Channel("tunnel-2-soil", Quantity.SOIL_TEMPERATURE): steady(7.0, 0.2),
}


BATCHES: Sequence[tuple[Start, float]] = (
    (
        Start(
            crop="ranunculus", cultivar="Dawn Apricot", place="sprouting-room",
            stage="pre_sprout", unit="corms", supplier="a friend", lot="L7", grade="5/6",
            received=500, rotten=12,
        ),
        9.2,
    ),
    (
        Start(
            crop="ranunculus", cultivar="Copper Veil", place="walk-in-cooler",
            stage="cut_stems", unit="stems", count=Count(640, rough=True),
        ),
        3.1,
    ),
    (
        Start(
            crop="ranunculus", cultivar="Pale Harbor", place="soak-bucket", stage="soak",
            unit="corms", count=Count(200),
        ),
        2.6 / 24,
    ),
    (
        Start(
            crop="anemone", cultivar="Night Plum", place="tunnel-1", stage="bud",
            unit="plants", count=Count(310),
        ),
        20.0,
    ),
)  # fmt: skip


def writing(days_ago: float, by: str = "Wren") -> Writing:
    """Return who writes, and when it was."""
    return Writing(by=by, at_ms=NOW_MS - int(days_ago * DAY_MS), now_ms=NOW_MS)


def furnished(folder: Path) -> SmallDesk:
    """Return a desk with a day of readings, four batches and a cooler that fails."""
    desk = SmallDesk(starter_farm(folder))
    for channel, course in COURSES.items():
        desk.write(readings(channel, course))
    for start, days_ago in BATCHES:
        desk.record(add(start, writing(days_ago)))
    looked = Seen(roots=parse_roots("22 of 25"), note="white tips")
    desk.record(observe(1, looked, writing(1.0, "Robin")))
    desk.record(observe(2, Seen(held_for="Saturday's wedding", held=120), writing(0.8)))
    desk.judge()
    return desk
