"""A ledger that is removed, or replaced, while it is in use."""

import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from monitor.model import Alarm, Decision
from monitor.store import Commit, Ledger, ReadingStore, ledger_file
from monitor.store.connection import connect_writer
from tests.store.making import AIR, T0_MS, WARM, alarm, line, notice, reading


def _raise(row: Alarm | None) -> Decision | None:
    return None if row else Decision(alarm(), (line(),), (notice(),))


def _unlink(path: Path) -> None:
    path.unlink()


def _unlink_all(path: Path) -> None:
    for each in path.parent.glob("ledger.db*"):
        each.unlink()


def _begun_anew(path: Path) -> None:
    """Remove it, and let another program of ours make an empty one."""
    _unlink_all(path)
    Ledger.open(path).close()


@pytest.mark.parametrize("fault", [_unlink, _unlink_all, _begun_anew])
def test_a_ledger_removed_while_in_use_is_put_back(
    tmp_path: Path, fault: Callable[[Path], None]
) -> None:
    """What was written before and after is all there, for everyone who has it open, and told."""
    path = tmp_path / "data" / "ledger.db"
    ledger, courier = Ledger.open(path), Ledger.open(path)
    ledger.transact(WARM, _raise, T0_MS)
    fault(path)
    courier.put("after", 1)
    ledger.put("then", 2)
    with closing(Ledger.open(path)) as again:
        assert [each.key for each in again.alarms()] == [WARM]
        assert (again.get("after"), again.get("then")) == (1, 2)
    assert "while in use" in courier.told
    assert "while in use" in ledger.told
    assert [each.key for each in ledger.alarms()] == [WARM]
    assert {each.stat().st_mode & 0o777 for each in path.parent.iterdir()} == {0o600}


def test_a_longer_record_put_in_its_place_is_followed(tmp_path: Path) -> None:
    """Who has it open goes on in the file that holds more, and takes nothing from it."""
    path, better = tmp_path / "ledger.db", tmp_path / "better.db"
    with closing(Ledger.open(better)) as other:
        other.transact(WARM, _raise, T0_MS)
    ledger = Ledger.open(path)
    ledger.put("before", 1)
    better.rename(path)
    assert [each.key for each in ledger.alarms()] == [WARM]
    assert ledger.get("before") is None
    assert "followed" in ledger.told


def test_one_that_is_replaced_while_it_is_opened_is_not_taken_for_the_new_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Opened, then removed and put back by another before it is named: its lines are kept."""
    path = tmp_path / "ledger.db"
    first = Ledger.open(path)
    first.put("before", 1)

    def slowly(path: Path) -> sqlite3.Connection:
        monkeypatch.undo()
        connection = connect_writer(path)
        path.unlink()
        first.put("meanwhile", 2)
        return connection

    monkeypatch.setattr(ledger_file, "connect_writer", slowly)
    second = Ledger.open(path)
    second.put("after", 3)
    with closing(Ledger.open(path)) as again:
        assert [again.get(each) for each in ("before", "meanwhile", "after")] == [1, 2, 3]
    first.close()
    second.close()


_WRITE = """
import sys
from pathlib import Path
from monitor.store import Ledger
ledger = Ledger.open(Path(sys.argv[1]))
for number in range(60):
    ledger.append("counted", int(sys.argv[2]) * 1000 + number)
"""


def test_processes_that_write_all_the_while_lose_nothing(tmp_path: Path) -> None:
    """Removed again and again under two that write, no line of either is lost."""
    path = tmp_path / "ledger.db"
    ledger = Ledger.open(path)
    ledger.put("counted", [])
    running = [
        subprocess.Popen([sys.executable, "-c", _WRITE, str(path), str(each)]) for each in (1, 2)
    ]
    removed = 0
    while any(each.poll() is None for each in running):
        if ledger.get("counted") and removed < 3:
            path.unlink(missing_ok=True)
            removed += 1
        ledger.put("seen", removed)
    assert [each.wait(60) for each in running] == [0, 0]
    assert sorted(ledger.get("counted")) == [
        each * 1000 + number for each in (1, 2) for number in range(60)
    ]
    assert removed > 0


def test_readings_removed_while_in_use_are_begun_anew(tmp_path: Path) -> None:
    """A readings file without its name is left; a whole one stands there after the next commit."""
    path = tmp_path / "readings.db"
    store = ReadingStore.open(path)
    store.commit(Commit(readings=[reading(T0_MS)]))
    path.unlink()
    assert store.commit(Commit(readings=[reading(T0_MS + 1)])).stored == 1
    with closing(sqlite3.connect(path)) as found:
        assert found.execute("PRAGMA quick_check").fetchone() == ("ok",)
    assert store.reader().newest()[AIR].at_ms == T0_MS + 1
