"""A damaged file: set aside, replaced, saved from, and told."""

import itertools
import os
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from monitor.errors import StoreError
from monitor.store import (
    Commit,
    DamagedError,
    Ledger,
    ReadingReader,
    ReadingStore,
    readings,
    set_aside,
)
from tests.store.making import AIR, DAMP, T0_MS, reading

COUNT = 6_000


def _filled(path: Path) -> None:
    store = ReadingStore.open(path)
    for channel in (AIR, DAMP):
        rows = [reading(T0_MS + k * 60_000, k / 100, channel) for k in range(COUNT)]
        store.commit(Commit(readings=rows))
    store.commit(Commit(heard={"cooler-air": T0_MS}, window=[(1, 2), (3, 4)]))
    store.close()


def _zero_header(path: Path) -> None:
    with path.open("r+b") as file:
        file.write(bytes(4_096))


def _garbage_header(path: Path) -> None:
    with path.open("r+b") as file:
        file.write(np.random.default_rng(1).bytes(4_096))


def _truncate(path: Path) -> None:
    with path.open("r+b") as file:
        file.truncate(path.stat().st_size * 3 // 4 + 100)


def _overwrite_pages(path: Path) -> None:
    dice = np.random.default_rng(2)
    pages = path.stat().st_size // 4_096
    with path.open("r+b") as file:
        for page in dice.choice(np.arange(20, pages), 6, replace=False).tolist():
            file.seek(page * 4_096)
            file.write(dice.bytes(4_096))


DAMAGE = pytest.mark.parametrize(
    ("damage", "least"),
    [
        (_zero_header, 1.0), (_garbage_header, 1.0), (_truncate, 0.5), (_overwrite_pages, 0.7),
    ],
)  # fmt: skip


@DAMAGE
def test_a_damaged_file_is_set_aside_and_saved_from(
    tmp_path: Path, damage: Callable[[Path], None], least: float
) -> None:
    """A new file is open at once, the old one keeps a dated name, what is readable is saved."""
    path = tmp_path / "readings.db"
    _filled(path)
    damage(path)
    store = ReadingStore.open(path)
    while store.salvage(1.0):
        pass
    aside = [each.name for each in tmp_path.glob("readings-damaged-20*Z.db")]
    assert len(aside) == 1
    assert aside[0] in store.notices[0]
    assert "saved" in store.notices[1]
    series = store.reader().series(AIR, 0)
    assert len(series.raw) + len(store.reader().series(DAMP, 0).raw) >= 2 * COUNT * least
    assert ((series.at_ms - T0_MS) // 60_000 / 100).tolist() == series.raw.tolist()
    assert store.reader().heard() == {"cooler-air": T0_MS}
    assert store.reader().window() == [(1, 2), (3, 4)]
    assert store.commit(Commit(readings=[reading(T0_MS * 2, 5.0)])).stored == 1
    assert store.reader().newest()[AIR].raw == 5.0
    store.close()
    assert ReadingStore.open(path).notices == []


def test_a_file_that_is_something_else_is_set_aside(tmp_path: Path) -> None:
    """A file with no trace of a database leaves an empty store, not a failure."""
    path = tmp_path / "readings.db"
    path.write_bytes(b"all is lost\n" * 9_999)
    store = ReadingStore.open(path)
    store.salvage(1.0)
    assert store.reader().newest() == {}
    assert store.notices[-1].startswith("0 readings were saved")
    assert store.commit(Commit(readings=[reading(T0_MS)])).stored == 1


def test_damage_met_while_running_ends_no_commit(tmp_path: Path) -> None:
    """The commit that meets it is written to a new file, with what the old one still holds."""
    path = tmp_path / "readings.db"
    _filled(path)
    store = ReadingStore.open(path)
    reader = store.reader()
    assert len(reader.series(AIR, 0).raw) == COUNT
    store._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    _zero_header(path)
    store._connection.execute("PRAGMA cache_size = 0")
    late = reading(T0_MS - 60_000, 7.0)
    with_others = Commit(readings=[late], heard={"cooler-air": T0_MS})
    store._version = -1
    assert store.commit(with_others).stored == 1
    while store.salvage(1.0):
        pass
    assert len(reader.series(AIR, 0).raw) == COUNT + 1
    assert reader.heard() == {"cooler-air": T0_MS}
    assert len(store.notices) == 2


def test_saving_goes_on_after_a_restart(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A stop in the middle of saving loses nothing and doubles nothing."""
    path = tmp_path / "readings.db"
    _filled(path)
    _zero_header(path)
    monkeypatch.setattr(readings, "OPENING_S", 0.0)
    store = ReadingStore.open(path)
    for part in itertools.islice(store._salvage.parts(9.0) if store._salvage else (), 3):
        store._rows.keep(part, certain=True)
    assert 0 < len(store.reader().series(AIR, 0).raw) < COUNT
    store.close()
    again = ReadingStore.open(path)
    while again.salvage(1.0):
        pass
    assert len(again.reader().series(AIR, 0).raw) == COUNT
    assert len(again.reader().series(DAMP, 0).raw) == COUNT
    assert again.notices[0].startswith("12,000 readings were saved")
    assert not again.salvage(1.0)
    assert list(tmp_path.glob("*.saving")) == []


def test_a_file_set_aside_by_another_process_is_left(tmp_path: Path) -> None:
    """The writer follows the name, so no commit goes into a file that was set aside."""
    store = ReadingStore.open(tmp_path / "readings.db")
    store.commit(Commit(readings=[reading(T0_MS)]))
    aside = set_aside(store.path)
    assert store.commit(Commit(readings=[reading(T0_MS, 5.0)])).stored == 1
    assert store.reader().series(AIR, 0).raw.tolist() == [5.0]
    assert ReadingReader(aside).series(AIR, 0).raw.tolist() == [4.0]


def test_damage_met_by_a_reader_is_mended_by_the_writer(tmp_path: Path) -> None:
    """A reader that cannot go on says so, and works again after the next commit."""
    path = tmp_path / "readings.db"
    _filled(path)
    store = ReadingStore.open(path)
    reader = store.reader()
    _overwrite_pages(path)
    with pytest.raises(DamagedError, match=r"readings\.db is damaged"):
        [reader.series(channel, 0) for channel in (AIR, DAMP)]
    store.commit(Commit(readings=[reading(T0_MS * 2, 5.0)]))
    while store.salvage(1.0):
        pass
    assert len(reader.series(AIR, 0).raw) > COUNT * 0.7
    assert reader.newest()[AIR].raw == 5.0


def test_damage_met_while_finding_a_channel_is_told_too(tmp_path: Path) -> None:
    """The first question of a reader may meet it in the list of channels."""
    path = tmp_path / "readings.db"
    _filled(path)
    store = ReadingStore.open(path)
    asking = store.reader()
    asking.data_version()  # the file's head has been read
    size = path.stat().st_size
    with path.open("r+b") as file:
        file.seek(4_096)
        file.write(np.random.default_rng(3).bytes(size - 4_096))
    with pytest.raises(DamagedError, match=r"readings\.db is damaged"):
        asking.series(AIR, 0)
    store.commit(Commit(readings=[reading(T0_MS * 2, 5.0)]))
    assert asking.newest()[AIR].raw == 5.0


def test_a_damaged_ledger_is_never_replaced(tmp_path: Path) -> None:
    """The ledger is the truth: opening a damaged one fails and names the remedy."""
    path = tmp_path / "ledger.db"
    Ledger.open(path).close()
    _garbage_header(path)
    before = path.read_bytes()
    with pytest.raises(
        StoreError, match=r"ledger\.db is damaged.*put back a copy.*sets the file aside"
    ):
        Ledger.open(path)
    assert path.read_bytes() == before
    assert [each.name for each in tmp_path.glob("*damaged*")] == []


def _spoil_name(path: Path, name: bytes) -> None:
    content = path.read_bytes()
    at = content.index(b"table" + name + name) + 5
    path.write_bytes(content[:at] + b"\x8a\xff" + content[at + 2 :])


def test_a_name_that_is_no_text_is_damage(tmp_path: Path) -> None:
    """A name in the file that is no UTF-8 sets readings aside, and refuses a ledger."""
    path = tmp_path / "readings.db"
    _filled(path)
    _spoil_name(path, b"readings")
    store = ReadingStore.open(path)
    assert "set aside" in store.notices[0]
    assert store.commit(Commit(readings=[reading(T0_MS * 2, 5.0)])).stored == 1
    store.close()
    modes = {each.stat().st_mode & 0o777 for each in tmp_path.iterdir()}
    assert modes == {0o600}
    ledger = tmp_path / "ledger.db"
    Ledger.open(ledger).close()
    _spoil_name(ledger, b"state")
    with pytest.raises(DamagedError, match="put back a copy"):
        Ledger.open(ledger)


def test_a_ledger_is_set_aside_when_told(tmp_path: Path) -> None:
    """A second file of the same second gets a name of its own."""
    path = tmp_path / "ledger.db"
    names = set()
    for _ in range(3):
        Ledger.open(path).close()
        names.add(set_aside(path).name)
    assert len(names) == 3
    assert Ledger.open(path).alarms() == []


def _emptied(path: Path) -> None:
    """Leave a file as a power cut may: there, without a byte, for some time."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(b"")
    os.utime(path, (1_000_000_000, 1_000_000_000))


def test_an_emptied_readings_file_is_told(tmp_path: Path) -> None:
    """A file without a byte is begun anew, and said to have been lost."""
    path = tmp_path / "readings.db"
    _emptied(path)
    store = ReadingStore.open(path)
    assert [notice for notice in store.notices if "was empty" in notice]
    store.close()
    again = ReadingStore.open(path)
    assert again.notices == []
    again.close()


def test_an_emptied_ledger_is_no_new_one(tmp_path: Path) -> None:
    """Where the farm was watched before, a ledger without a byte is damage, not a beginning."""
    ReadingStore.open(tmp_path / "readings.db").close()
    _emptied(tmp_path / "ledger.db")
    with pytest.raises(StoreError, match="it is empty"):
        Ledger.open(tmp_path / "ledger.db")
    _emptied(tmp_path / "fresh" / "ledger.db")
    Ledger.open(tmp_path / "fresh" / "ledger.db").close()
