"""Covers and opening told by the daemon: once a day each, and only where there is cause."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from monitor.batches import fold
from monitor.clock import SystemClock
from monitor.daemon.judge import Judge
from monitor.daemon.opening import nothing_yet
from monitor.daemon.outlook import Outlooks
from monitor.farm import load
from monitor.model import Channel, Flag, Quantity, Reading
from monitor.report.forecast import give_low
from monitor.store import Commit, Ledger, ReadingStore
from tests.watch.made import batch
from tests.web.desk import starter_farm

ZONE = ZoneInfo("America/New_York")
HOUR_MS = 3_600_000
EVERY_MS = 300_000
AIR, DAMP = (Channel("tunnel-2-air", each) for each in (Quantity.TEMPERATURE, Quantity.HUMIDITY))


def ms(month: int, day: int, hour: int, minute: int = 0) -> int:
    """Return a time of the farm's clock in 2026."""
    local = datetime(2026, month, day, hour, minute, tzinfo=ZONE)
    return round(local.astimezone(UTC).timestamp() * 1000)


@dataclass
class Site:
    """A starter farm with an outlook over a real store and ledger; nothing runs."""

    outlooks: Outlooks
    store: ReadingStore
    ledger: Ledger

    def measured(
        self, since_ms: int, until_ms: int, swing: tuple[float, float], *, damp: bool = True
    ) -> None:
        """Store days that run from one temperature before sunrise to another at three. [°C]"""
        at = np.arange(since_ms, until_ms + 1, EVERY_MS)
        hours = np.array([datetime.fromtimestamp(each / 1000, ZONE).hour for each in at])
        hours = hours + (at % HOUR_MS) / HOUR_MS
        low, high = swing
        air = (low + high) / 2 - (high - low) / 2 * np.cos((hours - 3.0) * np.pi / 12.0)
        rows = [(AIR, air), *([(DAMP, np.full(len(at), 60.0))] if damp else [])]
        self.store.commit(Commit(readings=[
            Reading(channel, int(when), float(value), Flag.NONE, int(when))
            for channel, values in rows
            for when, value in zip(at, values, strict=True)
        ]))  # fmt: skip

    def told(self, since_ms: int, until_ms: int) -> list[tuple[int, str]]:
        """Turn every five minutes; return when messages were written, and what they say."""
        found = []
        for now_ms in range(since_ms, until_ms, EVERY_MS):
            before = len(self.ledger.notices(1000))
            if self.outlooks.turn(now_ms):
                rows = self.ledger.notices(1000)
                found += [(now_ms, body) for body in {e.body for e in rows[: len(rows) - before]}]
        return found


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Site]:
    """Yield a farm of which nothing has been measured."""
    folder = starter_farm(tmp_path / "farm")
    (folder / "data").mkdir(exist_ok=True)
    farm = load(folder, environ={})
    store = ReadingStore.open(folder / "data" / "readings.db")
    ledger = Ledger.open(folder / "data" / "ledger.db")
    clock = SystemClock()
    judge = Judge(farm, ledger, clock, fold(()), nothing_yet(farm, ms(3, 1, 0)))
    yield Site(Outlooks(judge, store, clock, lambda: None), store, ledger)
    store.close()
    ledger.close()


def test_a_cold_evening_is_told_once(site: Site) -> None:
    """A cold evening makes one message in its light, though the day is asked all along."""
    site.measured(ms(3, 10, 0), ms(3, 10, 23, 55), (-12.0, 4.0))
    told = site.told(ms(3, 10, 7), ms(3, 10, 23))
    assert len(told) == 1
    at_ms, body = told[0]
    assert ms(3, 10, 16, 50) <= at_ms <= ms(3, 10, 17, 0)  # two hours before sunset at 18:52 EDT
    assert body.startswith("Tunnel 2, tonight: covers on before sunset at 18:5")


def test_both_changes_of_the_clock_are_one_day_each(site: Site) -> None:
    """Over the nights the clocks change, each evening is told of once."""
    for month, day in ((3, 7), (11, 1)):
        since_ms = ms(month, day, 0)
        site.measured(since_ms, since_ms + 72 * HOUR_MS, (-12.0, 4.0))
        told = site.told(since_ms, since_ms + 71 * HOUR_MS)
        days = [datetime.fromtimestamp(at_ms / 1000, ZONE).date() for at_ms, _ in told]
        assert days == sorted(set(days))
        assert len(days) == 3


def test_a_restart_does_not_tell_again(site: Site) -> None:
    """What was told is kept in the ledger: a second daemon says nothing more that day."""
    site.measured(ms(3, 10, 0), ms(3, 10, 23, 55), (-12.0, 4.0))
    assert len(site.told(ms(3, 10, 16), ms(3, 10, 18))) == 1
    one = site.outlooks
    site.outlooks = Outlooks(one.judge, one.store, one.clock, one.wake_courier)
    assert site.told(ms(3, 10, 18), ms(3, 10, 19)) == []


def test_a_warm_night_says_nothing(site: Site) -> None:
    """A mild day and night, and a tunnel that stays cool by day, make no message at all."""
    site.measured(ms(3, 10, 0), ms(3, 11, 12), (9.0, 17.0))
    assert site.told(ms(3, 10, 0), ms(3, 11, 12)) == []


def test_without_humidity_or_reading_nothing_is_claimed(site: Site) -> None:
    """A silent hygrometer, or no reading at all, makes no message unless a forecast was given."""
    assert site.told(ms(3, 9, 12), ms(3, 9, 20)) == []
    site.measured(ms(3, 10, 0), ms(3, 11, 0), (-12.0, 4.0), damp=False)
    assert site.told(ms(3, 10, 12), ms(3, 10, 17, 30)) == []
    give_low(site.ledger, date(2026, 3, 10), -6.0, "Wren", ms(3, 10, 17, 20))
    ((_, body),) = site.told(ms(3, 10, 17, 30), ms(3, 10, 20))
    assert "By the forecast low of 21 °F that Wren gave" in body


def test_a_sunny_morning_is_told_ahead_once(site: Site) -> None:
    """After a fortnight of sunny days the tunnel's opening is told once, with a lead."""
    site.measured(ms(3, 20, 0), ms(4, 8, 0), (2.0, 30.0))
    told = site.told(ms(4, 7, 6), ms(4, 7, 15))
    assert len(told) == 1
    at_ms, body = told[0]
    assert body.startswith("Tunnel 2 passes 75 °F about 11:")  # 23.9 °C of this cosine is at 11:27
    assert at_ms <= ms(4, 7, 11, 10)


def test_records_decide_which_tunnels_matter(site: Site) -> None:
    """Where batches are recorded, a tunnel without one is not spoken of."""
    judge = site.outlooks.judge
    judge.book = replace(judge.book, batches={1: batch(1, "bud", "tunnel-1")})
    site.measured(ms(3, 10, 0), ms(3, 10, 23, 55), (-12.0, 4.0))
    assert site.told(ms(3, 10, 7), ms(3, 10, 23)) == []
