"""A power cut as the disk shows it afterwards: logs cut short, pages torn, zeroed or stale.

What is opened then holds a beginning of what was committed where only the log was hit, and
nothing that never was committed in any case; a loss is said. The damage is drawn by a seed.
"""

import random
import shutil
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

import pytest

from monitor.model import Decision, EntryKind, NewEntry
from monitor.store import LOST, Commit, DamagedError, Ledger, ReadingStore, mend
from tests.store.making import AIR, DAMP, T0_MS, WARM, alarm, line, notice, reading

PAGE = 4_096
FRAME = PAGE + 24  # SQLite's file format, 4.2: a frame is a header of 24 bytes and a page
SEEDS = range(6)


@dataclass
class Image:
    """The files of a store as they were while it was written, and what had been committed."""

    folder: Path
    name: str
    commits: list[list[object]] = field(default_factory=list)
    early: Path | None = None

    def taken(self, to: Path) -> Path:
        """Return a copy of the main file, its log beside it."""
        to.mkdir()
        for each in self.folder.glob(f"{self.name}*"):
            if not each.name.endswith("-shm"):
                shutil.copy(each, to / each.name)
        return to / self.name

    def prefixes(self) -> list[list[object]]:
        """Return what stood there after each commit."""
        held: list[object] = []
        found: list[list[object]] = [[]]
        for each in self.commits:
            held = held + each
            found.append(held)
        return found


def _copied(source: Path, to: Path) -> Path:
    to.mkdir()
    for each in source.parent.glob(f"{source.name}*"):
        if not each.name.endswith("-shm"):
            shutil.copy(each, to / each.name)
    return to / source.name


@pytest.fixture(scope="module")
def readings_image(tmp_path_factory: pytest.TempPathFactory) -> Image:
    """Return readings of sixty commits, the last third of them in the log only."""
    top = tmp_path_factory.mktemp("readings")
    store = ReadingStore.open(top / "open" / "readings.db")
    store._connection.execute("PRAGMA wal_autocheckpoint = 0")
    image = Image(top / "taken", "readings.db")
    for number in range(60):  # of 240 readings each
        rows = [
            reading(T0_MS + (number * 120 + step) * 30_000, step / 100, channel)
            for channel in (AIR, DAMP)
            for step in range(120)
        ]
        store.commit(Commit(readings=rows))
        image.commits.append([(each.channel, each.at_ms, each.raw) for each in rows])
        if number in {20, 40}:
            store._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        if number == 20:
            image.early = _copied(store.path, top / "early")
    _copied(store.path, image.folder)
    store.close()
    return image


@pytest.fixture(scope="module")
def ledger_image(tmp_path_factory: pytest.TempPathFactory) -> Image:
    """Return a ledger of ninety commits of a batch's record, the last third in the log only."""
    top = tmp_path_factory.mktemp("ledger")
    ledger = Ledger.open(top / "open" / "ledger.db")
    ledger._connection.execute("PRAGMA wal_autocheckpoint = 0")
    image = Image(top / "taken", "ledger.db")
    ledger.accept_configuration({"farm.toml": "x" * 9_000}, "1", T0_MS, "start")
    ledger.transact(WARM, lambda _: Decision(alarm(), (line(),), (notice(),)), T0_MS)
    for number in range(90):
        data = {"count": number, "note": "n" * 300}
        new = NewEntry(None, EntryKind.ADDED, T0_MS + number, "ada", data)
        ledger.write_entries(partial(_only, new), T0_MS + number)
        image.commits.append([(number + 1, number)])
        if number in {30, 60}:
            ledger._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        if number == 30:
            image.early = _copied(ledger.path, top / "early")
    _copied(ledger.path, image.folder)
    ledger.close()
    return image


def _only(new: NewEntry, _old: object) -> list[NewEntry]:
    return [new]


# -- damage ------------------------------------------------------------------------------------


def _log(path: Path) -> Path:
    return path.with_name(path.name + "-wal")


def cut_log(path: Path, dice: random.Random, _early: Path) -> None:
    """Cut the log at any byte."""
    with _log(path).open("r+b") as file:
        file.truncate(dice.randrange(_log(path).stat().st_size))


def zero_tail(path: Path, dice: random.Random, _early: Path) -> None:
    """Leave zeros from some byte of the log on, as blocks that were never written."""
    size = _log(path).stat().st_size
    at = dice.randrange(size)
    with _log(path).open("r+b") as file:
        file.seek(at)
        file.write(bytes(size - at))


def torn_frame(path: Path, dice: random.Random, _early: Path) -> None:
    """Overwrite part of one frame of the log."""
    frames = (_log(path).stat().st_size - 32) // FRAME
    with _log(path).open("r+b") as file:
        file.seek(32 + dice.randrange(frames) * FRAME + dice.randrange(FRAME - 600))
        file.write(dice.randbytes(512))


def no_log(path: Path, _dice: random.Random, _early: Path) -> None:
    """Lose the log as a whole."""
    _log(path).unlink()


def torn_pages(path: Path, dice: random.Random, _early: Path) -> None:
    """Overwrite some pages of the file with anything."""
    _pages(path, dice, lambda _: dice.randbytes(PAGE))


def zeroed_pages(path: Path, dice: random.Random, _early: Path) -> None:
    """Overwrite some pages of the file with zeros."""
    _pages(path, dice, lambda _: bytes(PAGE))


def stale_pages(path: Path, dice: random.Random, early: Path) -> None:
    """Have some pages of the file never written since an earlier day."""
    old = early.read_bytes()
    _pages(path, dice, lambda page: old[page * PAGE : (page + 1) * PAGE])


def cut_file(path: Path, dice: random.Random, _early: Path) -> None:
    """Cut the file at any byte."""
    with path.open("r+b") as file:
        file.truncate(dice.randrange(PAGE, path.stat().st_size))


def _pages(path: Path, dice: random.Random, new: Callable[[int], bytes]) -> None:
    _log(path).unlink()  # it would bring the pages back
    with path.open("r+b") as file:
        for page in dice.sample(range(path.stat().st_size // PAGE), 3):
            file.seek(page * PAGE)
            file.write(new(page))


LOG_HIT = (cut_log, zero_tail, torn_frame, no_log)
FILE_HIT = (torn_pages, zeroed_pages, stale_pages, cut_file)
Damage = Callable[[Path, random.Random, Path], None]


def _hit(image: Image, to: Path, damage: Damage, seed: int) -> Path:
    assert image.early is not None
    path = image.taken(to)
    damage(path, random.Random(seed), image.early)  # noqa: S311 - a draw, no secret
    return path


# -- readings ----------------------------------------------------------------------------------


def _stored(store: ReadingStore) -> set[object]:
    reader = store.reader()
    found: set[object] = set()
    for channel in reader.channels():
        series = reader.series(channel, 0)
        pairs = zip(series.at_ms.tolist(), series.raw.tolist(), strict=True)
        found |= {(channel, at_ms, raw) for at_ms, raw in pairs}
    reader.close()
    return found


def _opened(path: Path) -> tuple[set[object], list[str]]:
    """Open readings, save what can be saved, take one more; return what stands, what is said."""
    store = ReadingStore.open(path)
    while store.salvage(1.0):
        pass
    found = _stored(store)
    late = reading(T0_MS * 2, 5.0)
    assert store.commit(Commit(readings=[late])).stored == 1
    assert _stored(store) - found == {(late.channel, late.at_ms, late.raw)}
    told = list(store.notices)
    store.close()
    return found, told


@pytest.mark.parametrize("damage", LOG_HIT)
def test_readings_whose_log_was_hit_are_a_beginning_of_what_was_committed(
    readings_image: Image, tmp_path: Path, damage: Damage
) -> None:
    """Whole commits, in order, up to some one; what had been copied into the file is there."""
    prefixes = [frozenset(each) for each in readings_image.prefixes()]
    for seed in SEEDS if damage is not no_log else range(1):
        found, told = _opened(_hit(readings_image, tmp_path / f"{seed}", damage, seed))
        assert frozenset(found) in prefixes[41:], seed
        assert told == [], seed


@pytest.mark.parametrize("damage", FILE_HIT)
def test_readings_whose_pages_were_hit_hold_nothing_untrue(
    readings_image: Image, tmp_path: Path, damage: Damage
) -> None:
    """Nothing stands there that was not committed; a loss is said; a second start says nothing."""
    written = set(readings_image.prefixes()[41])
    everything = set(readings_image.prefixes()[-1])
    kept = 0
    for seed in SEEDS:
        path = _hit(readings_image, tmp_path / f"{seed}", damage, seed)
        found, told = _opened(path)
        assert found <= everything, seed
        if damage is not stale_pages:  # a whole page of an earlier day looks sound
            assert told or found >= written, seed
        kept += len(found)
        _, again = _opened_again(path)
        assert again == [], seed
    assert kept > 0.5 * len(written) * len(SEEDS)


def _opened_again(path: Path) -> tuple[set[object], list[str]]:
    with closing(ReadingStore.open(path)) as store:
        return _stored(store), list(store.notices)


# -- ledger ------------------------------------------------------------------------------------


def _recorded(ledger: Ledger) -> list[object]:
    return [(each.id, each.data["count"]) for each in ledger.entries()]


def _mended(path: Path) -> tuple[list[object], str, bool]:
    """Open a ledger as the daemon does; return its record, what is said, and whether it is lost."""
    told, lost = "", False
    try:
        ledger = Ledger.open(path)
    except DamagedError:
        before = path.read_bytes()
        told, lost = mend(path)
        ledger = Ledger.open(path)
        assert before[: len(before) // PAGE * PAGE] in {
            each.read_bytes() for each in path.parent.glob("ledger-damaged-*.db")
        }
    with closing(ledger):
        found = _recorded(ledger)
        assert (ledger.get(LOST) is not None) == lost
        ledger.put("later", 1)
        assert ledger.get("later") == 1
        return found, told, lost


@pytest.mark.parametrize("damage", LOG_HIT)
def test_a_ledger_whose_log_was_hit_is_a_beginning_of_what_was_committed(
    ledger_image: Image, tmp_path: Path, damage: Damage
) -> None:
    """Whole entries, in order, up to some one."""
    prefixes = ledger_image.prefixes()
    for seed in SEEDS if damage is not no_log else range(1):
        mended = _mended(_hit(ledger_image, tmp_path / f"{seed}", damage, seed))
        assert mended[0] in prefixes[61:], seed
        assert mended[1:] == ("", False), seed


@pytest.mark.parametrize("damage", FILE_HIT)
def test_a_ledger_whose_pages_were_hit_holds_a_beginning(
    ledger_image: Image, tmp_path: Path, damage: Damage
) -> None:
    """What is saved of a batch's record has no hole, and a loss is said."""
    prefixes = ledger_image.prefixes()
    saved = 0
    for seed in SEEDS:
        found, told, lost = _mended(_hit(ledger_image, tmp_path / f"{seed}", damage, seed))
        assert found in prefixes, seed
        assert lost == (found == []), seed
        saved += not lost
        if damage is not stale_pages:
            assert told or found in prefixes[61:], seed
    if damage is not cut_file:  # the names of the tables stand in its middle
        assert saved > 0


def test_damage_met_in_use_is_mended_and_whoever_has_it_open_follows(
    ledger_image: Image, tmp_path: Path
) -> None:
    """The record goes on in a new file, for the other opening of it too."""
    path = _hit(ledger_image, tmp_path / "one", no_log, 0)
    ledger, courier = Ledger.open(path), Ledger.open(path)
    ledger.mend()
    ledger.put("after", 1)
    assert courier.get("after") == 1
    assert "mended" in courier.told
    assert _recorded(courier) == _recorded(ledger) == ledger_image.prefixes()[61]
    ledger.close()
    courier.close()
