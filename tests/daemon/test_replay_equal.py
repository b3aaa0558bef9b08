"""A replay in long packs beside one written apart from it: a reading at a time."""

from collections.abc import Iterator
from pathlib import Path
from typing import Final

import numpy as np
import pytest

from monitor import watch
from monitor.batches import fold, open_batches
from monitor.batches.counts import Count
from monitor.batches.rules import Start, Writing, add, move
from monitor.daemon.replaying import Replay, Replayed
from monitor.daemon.restoring import judged, specs
from monitor.farm import Farm
from monitor.model import (
    AlarmKey,
    AlarmKind,
    Channel,
    Edge,
    Flag,
    LedgerEntry,
    Quantity,
    Reading,
    Transition,
)
from monitor.store import Commit, ReadingReader, ReadingStore, Series
from tests.batches.fake_ledger import PaperLedger
from tests.watch.made import HOUR_MS, MINUTE_MS, START_MS, farm, sensor

HOURS: Final = 30
UNTIL_MS: Final = START_MS + HOURS * HOUR_MS
BOTH: Final = (Quantity.TEMPERATURE, Quantity.HUMIDITY)
ODD: Final = (Flag.SUSPECT, Flag.TIME_UNCERTAIN, Flag.IMPORTED, Flag.DEVICE_TIME)


def _farm() -> Farm:
    return farm(sensors=[
        sensor("north", BOTH), sensor("south", (Quantity.TEMPERATURE,)),
        sensor("wet", (Quantity.TEMPERATURE,), "bucket"),
    ])  # fmt: skip


def _times(dice: np.random.Generator) -> "np.ndarray[tuple[int], np.dtype[np.int64]]":
    """Return a reading a minute, a few lost, and some longer silences."""
    at_ms = START_MS + np.arange(HOURS * 60, dtype=np.int64) * MINUTE_MS
    at_ms += dice.integers(0, 20_000, at_ms.size)
    kept = dice.random(at_ms.size) > 0.02
    for start in dice.integers(0, at_ms.size, 3):
        kept[start : start + int(dice.integers(3, 90))] = False
    return at_ms[kept]


def _values(dice: np.random.Generator, n: int, middle: float, spread: float) -> list[float]:
    """Return slow swings, and now and then up to two hours further out."""
    phase = dice.random() * 7
    value = middle + spread * np.sin(np.arange(n) / 90.0 + phase) + dice.normal(0, 0.2, n)
    for start in dice.integers(0, n, 9):
        out = dice.choice((-1.0, 1.0)) * dice.uniform(1.0, 5.0) * spread
        value[start : start + int(dice.integers(5, 120))] += out
    rounded: list[float] = np.round(value, 1).tolist()
    return rounded


def _history(dice: np.random.Generator) -> Iterator[Reading]:
    for channel in specs(_farm()):
        at_ms = _times(dice)
        damp = channel.quantity is Quantity.HUMIDITY
        middle, spread = (88.0, 4.0) if damp else (2.8, 1.0)
        values = _values(dice, at_ms.size, middle, spread)
        for at, value in zip(at_ms.tolist(), values, strict=True):
            odd = dice.random() < 0.05
            flags = ODD[int(dice.integers(len(ODD)))] if odd else Flag.NONE
            yield Reading(channel, at, value, flags, at)


def _entries() -> list[LedgerEntry]:
    """Return stems and soaking corms that come and go within the history."""
    paper = PaperLedger()
    stems = Start("ranunculus", "Dawn Apricot", "cooler", "cut_stems", "stems", Count(300))
    corms = Start("ranunculus", "Dawn Apricot", "bucket", "soak", "corms", Count(300))
    for start, hour in ((stems, -2.0), (corms, 5.01), (stems, 9.5)):
        at_ms = START_MS + round(hour * HOUR_MS)
        paper.write(add(start, Writing("Wren", at_ms, UNTIL_MS)), UNTIL_MS)
    at_ms = START_MS + 26 * HOUR_MS
    paper.write(
        move(2, Writing("Wren", at_ms, UNTIL_MS), place="room", stage="pre_sprout"),
        UNTIL_MS,
    )
    return paper.entries


class Plain:
    """Every reading by itself, in the order of time, and a tick whenever one is due."""

    def __init__(self, of: Farm, entries: list[LedgerEntry]) -> None:
        self.farm = of
        self.entries = entries
        self.state = watch.begin(self._plan(START_MS), START_MS)
        self.told: list[Transition] = []

    def _plan(self, at_ms: int) -> watch.WatchPlan:
        return watch.plan(self.farm, open_batches(fold(self.entries, until_ms=at_ms)))

    def _step(self, event: watch.Event) -> None:
        stepped = watch.step(self.state, event)
        self.state = stepped.state
        self.told += stepped.transitions

    def _until(self, at_ms: int) -> None:
        """Let time pass up to just before a moment."""
        while (due_ms := watch.next_due(self.state)) is not None and due_ms < at_ms:
            self._step(watch.Tick(max(due_ms, self.state.now_ms)))

    def run(self, readings: list[Reading]) -> list[Transition]:
        """Return all that is told."""
        events: list[tuple[int, int, Reading | None]] = [(each.at_ms, 0, each) for each in readings]
        events += [(at_ms, 1, None) for at_ms in {each.at_ms for each in self.entries}
                   if at_ms > START_MS]  # fmt: skip
        for at_ms, _, reading in sorted(events, key=lambda each: each[:2]):
            self._until(at_ms)
            if reading is None:
                self._step(watch.Replanned(self._plan(at_ms), at_ms))
            else:
                self._step(_alone(self.farm, reading))
        self._until(UNTIL_MS)
        return self.told


def _alone(of: Farm, reading: Reading) -> watch.Samples:
    flags = int(reading.flags & ~Flag.IMPORTED)
    series = Series(*(np.array([each]) for each in (reading.at_ms, reading.raw, flags)))
    return judged(reading.channel, specs(of)[reading.channel], series, reading.at_ms)


def _store(folder: Path, readings: list[Reading]) -> ReadingReader:
    store = ReadingStore.open(folder / "readings.db")
    store.commit(Commit(readings=readings))
    store.close()
    return ReadingReader(folder / "readings.db")


def _returns(told: list[Transition]) -> list[tuple[AlarmKey, int]]:
    return [(each.key, each.at_ms) for each in told if each.edge is Edge.RETURN]


@pytest.mark.parametrize("number", [3, 7, 15, 17])
def test_packs_tell_what_single_readings_tell(tmp_path: Path, number: int) -> None:
    """A replay raises and returns at the moments, and with the facts, of single readings."""
    dice = np.random.default_rng(number)
    readings, entries, made = list(_history(dice)), _entries(), _farm()
    reader = _store(tmp_path, readings)
    work = Replay(made, entries, reader, START_MS, UNTIL_MS)
    found: list[Replayed] = work.run()
    reader.close()
    told = Plain(made, entries).run(readings)
    raised = sorted((each for each in told if each.edge is Edge.RAISE), key=_order)
    assert sorted((each.raised for each in found), key=_order) == raised
    ended = [(each.raised.key, each.returned_ms) for each in found if each.returned_ms is not None]
    assert sorted(ended) == sorted(_returns(told))
    assert work.readings == len(readings)
    kinds = {each.key.kind for each in raised}
    assert {AlarmKind.TOO_WARM, AlarmKind.SENSOR_SILENT, AlarmKind.STAGE_ENDING} <= kinds


def _order(told: Transition) -> tuple[int, AlarmKey]:
    return told.at_ms, told.key


def test_a_channel_inside_its_limits_takes_few_steps(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A day inside every harm limit is a few steps a look at the sensors, whatever drifts."""
    at_ms = START_MS + np.arange(1440) * MINUTE_MS
    readings = [
        Reading(Channel("south", Quantity.TEMPERATURE), at, 4.5, Flag.NONE, at)
        for at in at_ms.tolist()
    ]
    steps, step = [], watch.step

    def counted(state: watch.WatchState, event: watch.Event) -> watch.Stepped:
        steps.append(event)
        return step(state, event)

    monkeypatch.setattr(watch, "step", counted)
    reader = _store(tmp_path, readings)
    found = Replay(_farm(), [], reader, START_MS, int(at_ms[-1]) + 1).run()
    reader.close()
    assert found == []
    assert len(steps) <= 30
