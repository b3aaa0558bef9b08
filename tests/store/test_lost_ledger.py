"""A ledger of which nothing can be read: set aside, begun anew, and never lost on the way."""

import os
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from monitor.errors import BusyError, SchemaNewerError, StoreError
from monitor.model import Decision, EntryKind, NewEntry
from monitor.store import LOST, DamagedError, Ledger, ReadingStore, connection, mend, resume
from tests.store.making import T0_MS, WARM, alarm, line, notice
from tests.system.disks import fill, small_disk

BATCHES = 40


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Return a ledger with an alarm and the record of a batch, and readings beside it."""
    return _filled(tmp_path)


def _filled(folder: Path) -> Path:
    ReadingStore.open(folder / "readings.db").close()
    with closing(Ledger.open(folder / "ledger.db")) as ledger:
        ledger.transact(WARM, lambda _: Decision(alarm(), (line(),), (notice(),)), T0_MS)
        for number in range(BATCHES):
            data = {"count": number, "note": "n" * 900}
            new = NewEntry(None, EntryKind.ADDED, T0_MS + number, "ada", data)
            ledger.write_entries(lambda _, new=new: [new], T0_MS + number)  # type: ignore[misc]
    return folder / "ledger.db"


def _noise(path: Path) -> None:
    path.write_bytes(os.urandom(path.stat().st_size))


def _emptied(path: Path) -> None:
    path.write_bytes(b"")
    os.utime(path, (1_000_000_000, 1_000_000_000))


def _other(path: Path) -> None:
    path.write_bytes(b"all is lost\n" * 9_999)


@pytest.mark.parametrize("damage", [_noise, _emptied, _other])
def test_what_cannot_be_read_is_kept_and_begun_anew(
    path: Path, damage: Callable[[Path], None]
) -> None:
    """Every byte lies under a new name, and the new ledger says under which."""
    damage(path)
    before = path.read_bytes()
    with pytest.raises(DamagedError):
        Ledger.open(path)
    told, lost = mend(path)
    (aside,) = path.parent.glob("ledger-damaged-*.db")
    tail = aside.with_name(aside.name + ".tail")
    assert aside.read_bytes() + (tail.read_bytes() if tail.exists() else b"") == before
    assert lost
    assert aside.name in told
    with closing(Ledger.open(path)) as ledger:
        assert ledger.get(LOST) == aside.name
        assert ledger.entries() == []
        ledger.transact(WARM, lambda _: Decision(alarm(), (line(),), (notice(),)), T0_MS)
        assert len(ledger.alarms()) == 1
    assert {each.stat().st_mode & 0o777 for each in path.parent.iterdir()} == {0o600}
    assert list(path.parent.glob("*.mending-*")) == []


def test_alarms_are_saved_where_the_record_of_batches_is_lost(path: Path) -> None:
    """What can be read beside the record goes on, and that the record is lost is said."""
    with closing(sqlite3.connect(path)) as file:
        (page,) = file.execute("SELECT rootpage FROM sqlite_master WHERE name = 'entries'")
    with path.open("r+b") as raw:
        raw.seek((page[0] - 1) * 4_096)
        raw.write(os.urandom(4_096))
    assert mend(path).lost
    with closing(Ledger.open(path)) as ledger:
        assert (len(ledger.alarms()), ledger.entries()) == (1, [])
        assert ledger.get(LOST)


def test_a_mending_that_is_killed_loses_nothing(path: Path) -> None:
    """Ended between the two names, the next start finds the damaged file and mends that."""
    _noise(path)
    before = path.read_bytes()
    dies = (
        "import os, sys, pathlib; from monitor.store import mending\n"
        "mending._saved = lambda *_: os._exit(9)\n"
        "mending.mend(pathlib.Path(sys.argv[1]))"
    )
    ended = subprocess.run([sys.executable, "-c", dies, str(path)], timeout=60, check=False)
    assert ended.returncode == 9
    assert path.read_bytes() == before  # at no moment is there an empty one to be taken for it
    assert len(list(path.parent.glob("ledger-damaged-*.db"))) == 1
    resume(path)
    assert path.read_bytes() == before
    assert list(path.parent.glob("ledger-damaged-*")) == []
    assert mend(path).lost
    with closing(Ledger.open(path)) as ledger:
        ledger.put("later", 1)
    resume(path)
    assert len(list(path.parent.glob("ledger-damaged-*.db"))) == 1
    with closing(Ledger.open(path)) as ledger:
        assert ledger.get("later") == 1


def test_whoever_has_a_lost_ledger_open_goes_on_in_the_new_one(path: Path) -> None:
    """Overwritten under two that have it open, log and all: one mends it, the other follows."""
    first, second = Ledger.open(path), Ledger.open(path)
    first.put("before", 1)
    for each in path.parent.glob("ledger.db*"):
        with each.open("r+b") as file:
            file.write(os.urandom(each.stat().st_size))
    with pytest.raises(DamagedError):
        first.put("after", 1)
    first.mend()
    first.put("after", 2)
    assert second.get("after") == 2
    second.put("more", 3)
    assert first.get("more") == 3
    assert (first.lost, second.lost) == (True, False)
    first.close()
    second.close()
    with closing(Ledger.open(path)) as again:
        assert (again.get("before"), again.get("more")) == (None, 3)


def test_on_a_full_disk_the_damaged_file_stands_where_it_stood(tmp_path: Path) -> None:
    """No empty ledger takes its place, whoever opens it next; with room it is mended."""
    with small_disk(tmp_path / "data", 8):
        path = _filled(tmp_path / "data")
        _noise(path)
        before = path.read_bytes()
        filler = fill(path.parent)
        with pytest.raises(StoreError):
            mend(path)
        assert path.read_bytes() == before
        filler.unlink()
        assert mend(path).lost


def test_a_newer_file_and_a_busy_one_are_no_damage(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Both are refused for what they are, and stay as they are."""
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("PRAGMA locking_mode = EXCLUSIVE")
        other.execute("BEGIN EXCLUSIVE")
        other.execute("INSERT INTO state VALUES ('x', '1')")
        monkeypatch.setattr(connection, "BUSY_MS", 200)
        with pytest.raises(BusyError):
            Ledger.open(path)
        other.execute("INSERT INTO migrations VALUES (99, 'later')")
        other.execute("COMMIT")
    before = path.read_bytes()
    with pytest.raises(SchemaNewerError):
        Ledger.open(path)
    assert path.read_bytes() == before
