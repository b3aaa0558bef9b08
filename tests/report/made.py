"""A made-up farm with readings and batches in real files, for reports."""

import shutil
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from monitor.batches.book import Purpose, Roots
from monitor.batches.counts import Count
from monitor.batches.rules import (
    Builder,
    Leaving,
    Seen,
    Start,
    Writing,
    add,
    end,
    harvest,
    move,
    observe,
    out,
)
from monitor.farm import Farm, load
from monitor.model import Channel, Flag, Quantity, Reading
from monitor.report.making import Sources
from monitor.resources import config_dir
from monitor.science.checking import Floats
from monitor.store import Commit, Ledger, ReadingStore
from monitor.units import TemperatureUnit, to_celsius

HOUR_MS = 3_600_000
DAY_MS = 24 * HOUR_MS
NOW_MS = int(datetime(2026, 11, 24, 15, tzinfo=UTC).timestamp()) * 1000  # 10:00 at the farm
AIR, DAMP, SOIL = Quantity.TEMPERATURE, Quantity.HUMIDITY, Quantity.SOIL_TEMPERATURE
UNITS = {
    "received": "corms", "dry_store": "corms", "soak": "corms", "pre_sprout": "corms",
    "just_planted": "plants", "rosette": "plants", "bud": "plants", "bloom": "plants",
    "cut_stems": "stems",
}  # fmt: skip
Course = Callable[[Floats], Floats]


def f(value: float) -> float:
    """Return a Fahrenheit figure in °C."""
    return to_celsius(value, TemperatureUnit.FAHRENHEIT)


def days_ago(days: float) -> int:
    """Return a moment so many days before now. [ms]"""
    return NOW_MS - round(days * DAY_MS)


@dataclass
class Made:
    """The starter farm in a folder, its ledger and its readings."""

    folder: Path
    farm: Farm = field(init=False)

    def __post_init__(self) -> None:
        for name in ("farm.toml", "crops.toml", "people.toml"):
            shutil.copy(config_dir() / name, self.folder / name)
        self.farm = load(self.folder, {}, NOW_MS)
        self.farm.data_dir.mkdir()
        self.store = ReadingStore.open(self.farm.data_dir / "readings.db")
        self.ledger = Ledger.open(self.farm.data_dir / "ledger.db")

    def close(self) -> None:
        """Close the files."""
        self.store.close()
        self.ledger.close()

    def reload(self) -> None:
        """Take what the folder says now."""
        self.farm = load(self.folder, {}, NOW_MS)

    def write(self, build: Builder) -> int:
        """Write entries, and return the batch of the last one."""
        return self.ledger.write_entries(build, NOW_MS)[-1].batch

    def record(
        self,
        sensor: str,
        quantity: Quantity,
        since_ms: int,
        until_ms: int,
        course: Course,
        *,
        step_s: float = 120,
        flags: Flag = Flag.NONE,
    ) -> None:
        """Store a sensor's readings; the course is given days since the start."""
        at_ms = np.arange(since_ms, until_ms + 1, round(step_s * 1000), dtype=np.int64)
        value = course((at_ms - since_ms) / DAY_MS)
        channel = Channel(sensor, quantity)
        readings = [
            Reading(channel, at, round(v, 2), flags, at)
            for at, v in zip(at_ms.tolist(), value.tolist(), strict=True)
        ]
        for first in range(0, len(readings), 2000):
            self.store.commit(Commit(readings=readings[first : first + 2000]))

    @contextmanager
    def sources(self, now_ms: int = NOW_MS) -> Iterator[Sources]:
        """Give what reports are made from."""
        reader = self.store.reader()
        try:
            yield Sources(self.farm, self.ledger, reader, now_ms)
        finally:
            reader.close()

    def corms(
        self,
        days: float,
        *,
        cultivar: str = "Dawn Apricot",
        supplier: str = "Fen Bulbs",
        count: int = 300,
        stage: str = "pre_sprout",
        place: str = "sprouting-room",
        rotten: int | None = None,
    ) -> int:
        """Add a batch of corms that began so many days ago."""
        start = Start(
            "ranunculus", cultivar, place, stage, "corms", Count(count),
            supplier=supplier, received=count + (rotten or 0), rotten=rotten,
        )  # fmt: skip
        return self.write(add(start, by(days)))

    def stems(self, days: float, count: int = 200) -> int:
        """Add a batch of stems that came into the cooler so many days ago."""
        start = Start(
            "ranunculus", "Dawn Apricot", "walk-in-cooler", "cut_stems", "stems", Count(count)
        )
        return self.write(add(start, by(days)))

    def plant(self, batch: int, days: float, stage: str = "just_planted") -> None:
        """Move a batch to tunnel 2."""
        self.write(move(batch, by(days), place="tunnel-2", stage=stage, units=UNITS))

    def cut(self, batch: int, days: float, stems: int, cut_days: float | None = None) -> int:
        """Cut stems into the cooler, and return their batch."""
        cut_ms = None if cut_days is None else days_ago(cut_days)
        return self.write(
            harvest(
                batch, Count(stems), by(days), growing=["bud", "bloom"], stage="cut_stems",
                place="walk-in-cooler", cut_ms=cut_ms,
            )
        )  # fmt: skip

    def see(self, batch: int, days: float, seen: Seen) -> None:
        """Record a look."""
        self.write(observe(batch, seen, by(days)))

    def roots(self, batch: int, days: float, rooted: int, of: int = 25) -> None:
        """Record a sample of roots at the farm's length."""
        self.see(batch, days, Seen(roots=Roots((), rooted, of, rooted / of, None)))

    def cull(self, batch: int, days: float, count: int) -> None:
        """Record what was thrown away."""
        self.write(out(batch, [Leaving(Purpose.CULLED, Count(count))], by(days)))

    def end(self, batch: int, days: float) -> None:
        """End a batch."""
        self.write(end(batch, "done", by(days)))


def by(days: float) -> Writing:
    """Return a writing by Wren of what happened so many days ago."""
    return Writing(by="Wren", at_ms=days_ago(days), now_ms=NOW_MS)


def steady(value: float, *spells: tuple[float, float, float]) -> Course:
    """Return a course that swings a little, with spells (day, hours, value)."""

    def course(day: Floats) -> Floats:
        told = value + 0.3 * np.sin(day * 24 * 2 * np.pi)
        for start, hours, other in spells:
            told = np.where((day >= start) & (day < start + hours / 24), other, told)
        return np.asarray(told)

    return course


def daily(low: float, high: float) -> Course:
    """Return a tunnel's course: coldest at the start of each day of the series."""
    middle, half = (low + high) / 2, (high - low) / 2
    return lambda day: np.asarray(middle - half * np.cos(day * 2 * np.pi))


def rooms(made: Made, days: float, spells: Sequence[tuple[float, float, float]] = ()) -> None:
    """Record sprouting room, cooler and tunnel 2 for so many days up to now."""
    since = days_ago(days)
    made.record("sprouting-shelf", AIR, since, NOW_MS, steady(f(47.5), *spells))
    made.record("sprouting-shelf", DAMP, since, NOW_MS, steady(88.0))
    made.record("cooler-door-side", AIR, since, NOW_MS, steady(f(38)))
    made.record("cooler-door-side", DAMP, since, NOW_MS, steady(93.0))
    made.record("tunnel-2-air", AIR, since, NOW_MS, daily(f(40), f(62)))
    made.record("tunnel-2-air", DAMP, since, NOW_MS, steady(75.0))
    made.record("tunnel-2-soil", SOIL, since, NOW_MS, steady(f(52)), step_s=600)
