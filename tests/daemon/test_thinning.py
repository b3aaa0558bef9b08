"""Old readings thinned: only what reads back elsewhere, and reports stay as they were."""

import csv
import gzip
import os
import shutil
from collections.abc import Iterator
from contextlib import closing, suppress
from dataclasses import fields, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from monitor.cli import main
from monitor.daemon.thinning import Thinning
from monitor.errors import StoreError
from monitor.farm import load
from monitor.model import Channel, Flag, Quantity, Reading
from monitor.report.making import THINNED
from monitor.store import ArrivalReader, Commit, Ledger, ReadingReader, ReadingStore, Series, Width
from tests.cli.small_farm import small_farm
from tests.daemon.made import HandClock
from tests.system.mirrored import report_of

AIR = Channel("cooler-door", Quantity.TEMPERATURE)
BEGIN_MS = round(datetime(2026, 2, 10, 14, tzinfo=UTC).timestamp() * 1000)
DAY_MS, MINUTE_MS = 86_400_000, 60_000
DAYS = 6
NOW_MS = round(datetime(2026, 11, 20, tzinfo=UTC).timestamp() * 1000)


class Old:
    """A farm whose history of last winter is due to be thinned."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.stick = folder / "farm", folder / "stick"
        self.folder.mkdir()
        self.stick.mkdir()
        small_farm(self.folder)
        tables = f'[backup]\nfolder = "{self.stick}"\n[history]\nthin_after_months = 6\n'
        file = self.folder / "farm.toml"
        file.write_text(tables + file.read_text("utf-8"), "utf-8")
        self.path = self.folder / "data" / "readings.db"
        self.ledger = Ledger.open(self.folder / "data" / "ledger.db")
        farm = load(self.folder)
        self.thinning = Thinning(lambda: farm, self.ledger, HandClock(NOW_MS), breath_s=0.0)

    def keep(self, readings: list[Reading]) -> None:
        """Store readings."""
        with closing(ReadingStore.open(self.path)) as store:
            store.commit(Commit(readings))

    def raw(self) -> Series:
        """Return the rows as they stand in the file."""
        with closing(ReadingReader(self.path)) as reader:
            return reader.page(AIR, 0, 2**62, 10**6)

    def told(self) -> Series:
        """Return what the rest of the program is told."""
        with closing(ReadingReader(self.path)) as reader:
            return reader.series(AIR, 0)

    def sums(self) -> dict[Width, list[tuple[float, ...]]]:
        """Return the summaries of both widths: where they begin, and all they tell."""
        with closing(ReadingReader(self.path)) as reader:
            told = {each: reader.summaries(AIR, 0, NOW_MS, each) for each in Width}
        return {
            width: list(
                zip(*(getattr(found, each.name).tolist() for each in fields(found)), strict=True)
            )
            for width, found in told.items()
        }

    def archive(self) -> Path:
        """Return the month's file."""
        (file,) = self.stick.iterdir()
        return file


def _winter() -> list[Reading]:
    """Return a cycling cooler read each minute: doors, noise, three hours warm, one unheard."""
    dice = np.random.default_rng(7)
    minutes = np.arange(DAYS * 1_440)
    value = 3.2 + 0.6 * np.sin(minutes / 22 * 2 * np.pi) + dice.normal(0, 0.05, len(minutes))
    for door in dice.choice(minutes[:-20], 40, replace=False):
        value[door : door + 6] += 2.5
    value[3_000:3_180] += 5.0
    flags = np.where(dice.random(len(minutes)) < 0.001, Flag.SUSPECT, Flag.NONE)
    heard = np.flatnonzero((minutes < 5_000) | (minutes > 5_060)).tolist()
    return [
        Reading(
            AIR, BEGIN_MS + at * MINUTE_MS, round(float(value[at]), 2),
            Flag.DEVICE_TIME | Flag(int(flags[at])), NOW_MS,
        )
        for at in heard
    ]  # fmt: skip


@pytest.fixture
def old(tmp_path: Path) -> Iterator[Old]:
    """Yield a farm with six days of February and a batch that stood there."""
    made = Old(tmp_path)
    made.keep(_winter())
    words = ["add", "--crop", "ranunculus", "--cultivar", "Dawn Apricot", "--count", "40"]
    where = ["--place", "walk-in-cooler", "--stage", "cut_stems", "--at", "2026-02-10 12:00"]
    assert main(["batch", *words, *where, "--by", "wren", "--farm", str(made.folder)]) == 0
    yield made
    made.ledger.close()


def _same(before: Any, after: Any) -> None:  # noqa: ANN401 - JSON
    """Hold two histories of a stage to the stated precision."""
    for name in ("coverage", "known_s"):
        if name in before:
            assert after[name] == pytest.approx(before[name], abs=1e-6)
    assert after["in_band_share"] == pytest.approx(before["in_band_share"], abs=0.01)
    assert len(after["excursions"]) == pytest.approx(len(before["excursions"]), abs=2)
    worst, same = (max(each["excursions"], key=lambda out: out["peak"]) for each in (before, after))
    assert same["peak"] == worst["peak"]
    for end in ("from", "to"):
        one, other = (datetime.fromisoformat(each[end]) for each in (worst, same))
        assert abs((one - other).total_seconds()) <= 120
    assert same["degree_hours"] == pytest.approx(worst["degree_hours"], rel=0.02)


def test_a_batchs_report_stays_the_same_to_the_stated_precision(old: Old) -> None:
    """Coverage exactly, peaks exactly, shares within 0.01, the long spell within two minutes."""
    until_ms = BEGIN_MS + DAYS * DAY_MS
    before: Any = report_of(old.folder, until_ms)
    rows = len(old.raw().raw)
    assert old.thinning.turn()
    after: Any = report_of(old.folder, until_ms)
    assert len(old.raw().raw) < rows / 3
    assert before["stages"][0]["excursions"]
    for one, other in zip(before["stages"], after["stages"], strict=True):
        _same(one, other)
    assert after["verdict"]["answer"] == before["verdict"]["answer"]
    assert "thinned" in after["notes"][0]
    assert not any("thinned" in each for each in before["notes"])


def test_every_moment_is_told_within_the_tolerance_and_the_gap_stays(old: Old) -> None:
    """Minute by minute, however a span is cut; odd readings stay as they are."""
    before = old.raw()
    assert old.thinning.turn()
    told = old.told()
    assert told.at_ms.tolist() == before.at_ms.tolist()
    assert np.abs(told.raw - before.raw).max() <= 0.2
    odd = (before.flags & int(Flag.SUSPECT)) != 0
    assert odd.any()
    assert told.raw[odd].tolist() == before.raw[odd].tolist()
    with closing(ReadingReader(old.path)) as reader:
        for since in range(0, DAYS * 1_440, 611):
            span = (BEGIN_MS + since * MINUTE_MS, BEGIN_MS + (since + 37) * MINUTE_MS)
            part = reader.series(AIR, *span)
            here = (told.at_ms >= span[0]) & (told.at_ms < span[1])
            assert part.at_ms.tolist() == told.at_ms[here].tolist()
            np.testing.assert_allclose(part.raw, told.raw[here], atol=1e-12)


def test_the_months_file_has_every_reading_and_can_be_brought_in(
    old: Old, tmp_path: Path
) -> None:  # fmt: skip
    """In the columns of export, 0600; imported elsewhere it is the raw history again."""
    before = old.raw()
    assert old.thinning.turn()
    file = old.archive()
    assert file.name == "cormwatch-otter-bend-flowers-raw-2026-02.csv.gz"
    assert file.stat().st_mode & 0o777 == 0o600
    with gzip.open(file, "rt", encoding="utf-8", newline="") as text:
        rows = list(csv.DictReader(text))
    assert [float(each["raw"]) for each in rows] == before.raw.tolist()
    other = small_farm_of(tmp_path / "other")
    (other / "all.csv").write_bytes(gzip.decompress(file.read_bytes()))
    words = ["import", "readings", str(other / "all.csv"), "--farm", str(other)]
    assert main(words) == 0
    with closing(ReadingReader(other / "data" / "readings.db")) as reader:
        again = reader.series(AIR, 0)
    assert (again.at_ms.tolist(), again.raw.tolist()) == (
        before.at_ms.tolist(), before.raw.tolist(),
    )  # fmt: skip


def test_a_dry_run_of_the_months_file_foretells_what_comes_back(
    old: Old, capsys: pytest.CaptureFixture[str]
) -> None:
    """Here, where it was thinned: rows that are gone are new, whatever line stands in for them."""
    rows = len(old.raw().raw)
    assert old.thinning.turn()
    stay = len(old.raw().raw)
    (old.folder / "all.csv").write_bytes(gzip.decompress(old.archive().read_bytes()))
    words = ["import", "readings", str(old.folder / "all.csv"), "--farm", str(old.folder)]
    capsys.readouterr()
    assert main([*words, "--dry-run"]) == 0
    foretold = capsys.readouterr().out
    assert foretold.startswith(f"{rows - stay:,} readings can be imported; {stay:,} are there")
    assert main(words) == 0
    said = capsys.readouterr().out
    assert said == foretold.replace("can be", "were").replace("; nothing was stored", "")


def test_what_comes_back_is_not_counted_twice(old: Old, capsys: pytest.CaptureFixture[str]) -> None:
    """Hours and eight hours count each reading once, though some of an hour come by themselves."""
    before = old.sums()
    assert old.thinning.turn()
    (old.folder / "all.csv").write_bytes(gzip.decompress(old.archive().read_bytes()))
    assert main(["import", "readings", str(old.folder / "all.csv"), "--farm", str(old.folder)]) == 0
    assert "were imported" in capsys.readouterr().out
    assert old.sums() == before
    later = [replace(each, at_ms=each.at_ms + DAYS * DAY_MS) for each in _winter()[:90]]
    old.keep([replace(each, flags=each.flags | Flag.IMPORTED) for each in later])
    assert sum(n for _, n, *_ in old.sums()[Width.HOUR]) == 90 + sum(
        n for _, n, *_ in before[Width.HOUR]
    )


def small_farm_of(folder: Path) -> Path:
    """Return another small farm."""
    folder.mkdir()
    return small_farm(folder)


def test_nothing_is_thinned_that_is_not_safe(old: Old) -> None:
    """No folder, no thinning; a day with a reading that came later is left whole."""
    before = old.raw()
    shutil.move(old.stick, old.stick.with_name("out"))
    with pytest.raises(StoreError, match="nothing is thinned"):
        old.thinning.turn()
    assert old.raw().at_ms.tolist() == before.at_ms.tolist()
    shutil.move(old.stick.with_name("out"), old.stick)
    farm = old.thinning.farm()
    with closing(ReadingReader(old.path)) as reader:
        safe, _ = old.thinning._safe(farm, reader, 2026 * 12 + 1)
    late_ms = BEGIN_MS + 2 * DAY_MS + 30_000
    old.keep([Reading(AIR, late_ms, 4.0, Flag.DEVICE_TIME, NOW_MS)])
    with closing(ReadingStore.open(old.path)) as store:
        old.thinning._thin(farm, store, safe)
    after = old.raw()
    day = after.at_ms // DAY_MS == late_ms // DAY_MS
    assert day.sum() == 1_441
    assert not (after.flags[day] & int(Flag.THINNED)).any()
    assert (after.flags[~day] & int(Flag.THINNED)).any()


def test_a_months_file_that_is_overwritten_is_told_and_nothing_is_thinned(old: Old) -> None:
    """Whatever part of it has changed: every reading stays here, and it is said which file."""
    before = old.raw()
    with closing(ReadingReader(old.path)) as reader:
        old.thinning._safe(old.thinning.farm(), reader, 2026 * 12 + 1)
    file = old.archive()
    whole = file.read_bytes()
    for at in range(12, len(whole), len(whole) // 9):
        file.write_bytes(whole[:at] + bytes(9) + whole[at + 9 :])
        with pytest.raises(StoreError, match=f"{file.name} does not read back"):
            old.thinning.turn()
    assert old.raw().at_ms.tolist() == before.at_ms.tolist()


def test_the_months_file_has_its_name_on_the_disk_before_a_reading_goes(
    old: Old, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A power cut finds it: its folder is brought to the disk with it, and thinned only then."""
    fsync, thin = os.fsync, ReadingStore.thin
    done: list[object] = []

    def brought(file: int) -> None:
        named = old.archive().suffix == ".gz" if any(old.stick.iterdir()) else False
        done.append((os.fstat(file).st_ino == old.stick.stat().st_ino, named))
        fsync(file)

    def thinned(store: ReadingStore, *words: Any) -> tuple[int, int]:  # noqa: ANN401
        done.append("thinned")
        return thin(store, *words)

    monkeypatch.setattr(os, "fsync", brought)
    monkeypatch.setattr(ReadingStore, "thin", thinned)
    assert old.thinning.turn()
    assert done.index((True, True)) < done.index("thinned")


def test_one_that_was_broken_off_is_finished_from_the_first_file(
    old: Old, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Half thinned, the file of the whole month is never written again; then it is complete."""
    thin, calls = ReadingStore.thin, []

    def broken(store: ReadingStore, *words: Any) -> tuple[int, int]:  # noqa: ANN401
        calls.append(words)
        if len(calls) > 2:
            raise StoreError("the power is gone")
        return thin(store, *words)

    whole = old.raw()
    monkeypatch.setattr(ReadingStore, "thin", broken)
    with suppress(StoreError):
        old.thinning.turn()
    monkeypatch.undo()
    archive = old.archive().read_bytes()
    assert old.ledger.get(THINNED) is None
    assert old.thinning.turn()
    assert old.archive().read_bytes() == archive
    assert len(old.raw().raw) < len(whole.raw) / 3
    assert np.abs(old.told().raw - whole.raw).max() <= 0.2
    assert [each["before"] for each in old.ledger.get(THINNED)]


def test_months_without_a_reading_are_passed_over(old: Old) -> None:
    """One old reading costs one turn and one file, however many years lie between."""
    old.keep([Reading(AIR, DAY_MS, 3.0, Flag.DEVICE_TIME, NOW_MS)])  # as of a clock never set
    turns = 0
    while old.thinning.turn():
        turns += 1
    assert turns == 2
    assert sorted(each.name[-14:-7] for each in old.stick.iterdir()) == ["1970-01", "2026-02"]


def test_what_is_younger_stays_whole(old: Old) -> None:
    """One month at a turn, the oldest first, and none within the months that are kept."""
    recent = [
        Reading(AIR, NOW_MS - at * MINUTE_MS, 3.0, Flag.DEVICE_TIME, NOW_MS) for at in range(200)
    ]
    old.keep(recent)
    turns = 0
    while old.thinning.turn():
        turns += 1
    assert turns == 1  # February; six whole months and this one stay
    with closing(ArrivalReader(old.path)) as reader:
        assert reader.count(AIR, NOW_MS - DAY_MS, NOW_MS + 1) == 200
