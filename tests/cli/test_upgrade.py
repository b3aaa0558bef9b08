"""A farm of the first version's files, under this version's program."""

import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from monitor.cli import main
from monitor.model import Channel, Flag, Quantity, Reading
from monitor.store import Commit, Ledger, ReadingStore, migrating
from monitor.store.connection import connect_writer
from monitor.store.migrating import migrate, migrations
from tests.cli.small_farm import small_farm

START_MS = 1_768_528_800_000
CHANNEL = Channel("cooler-door", Quantity.TEMPERATURE)
Said = pytest.CaptureFixture[str]


def first_version_of(path: Path, schema: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Put the rows of a file into one of the schema's first step, in its place."""
    old = path.with_suffix(".old")
    with monkeypatch.context() as before, closing(connect_writer(old)) as made:
        before.setattr(migrating, "migrations", lambda _: migrations(schema)[:1])
        migrate(made, schema, old)
        made.execute("PRAGMA foreign_keys = OFF")
        made.execute("ATTACH ? AS now", (str(path),))
        names = "SELECT name FROM main.sqlite_master WHERE type = 'table' AND name <> 'migrations'"
        for (table,) in made.execute(f"{names} AND name NOT LIKE 'sqlite_%'").fetchall():
            rows = made.execute(f'PRAGMA main.table_info("{table}")').fetchall()
            columns = ", ".join(f'"{row[1]}"' for row in rows)
            made.execute(
                f'INSERT INTO main."{table}" ({columns}) SELECT {columns} FROM now."{table}"'
            )
        made.commit()
        made.execute("DETACH now")
        made.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    for each in path.parent.glob(f"{path.name}*"):
        each.unlink()
    old.rename(path)


@pytest.fixture
def farm(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return a farm with fifty readings and one batch, both files as the first version wrote."""
    folder = tmp_path / "farm"
    folder.mkdir()
    small_farm(folder)
    store = ReadingStore.open(folder / "data" / "readings.db")
    at = [START_MS + number * 60_000 for number in range(50)]
    store.commit(Commit(readings=[Reading(CHANNEL, when, 3.25, Flag.NONE, when) for when in at]))
    store.close()
    words = ["--crop", "ranunculus", "--cultivar", "Meadow Blush", "--count", "40"]
    where = ["--place", "walk-in-cooler", "--stage", "cut_stems", "--by", "ida"]
    assert main(["batch", "add", *words, *where, "--farm", str(folder)]) == 0
    for schema in ("readings", "ledger"):
        first_version_of(folder / "data" / f"{schema}.db", schema, monkeypatch)
    return folder


def schema_of(folder: Path, name: str) -> int:
    """Return how many steps of a schema a file has behind it."""
    with closing(sqlite3.connect(folder / "data" / f"{name}.db")) as file:
        return int(file.execute("SELECT max(number) FROM migrations").fetchone()[0])


def started(folder: Path) -> None:
    """Open both files as the monitor does at its start."""
    ReadingStore.open(folder / "data" / "readings.db").close()
    Ledger.open(folder / "data" / "ledger.db").close()


def told(folder: Path, capsys: Said) -> tuple[list[str], str]:
    """Return the readings, and the cultivar of the one batch, as the commands tell them."""
    capsys.readouterr()
    assert main(["export", "readings", "--farm", str(folder)]) == 0
    lines = capsys.readouterr().out.splitlines()[1:]
    assert main(["batch", "list", "--json", "--farm", str(folder)]) == 0
    (batch,) = json.loads(capsys.readouterr().out)
    return lines, batch["cultivar"]


def test_the_first_versions_files_are_carried_over_whole(farm: Path, capsys: Said) -> None:
    """Opened by this version, both files have its schema, and every row tells what it told."""
    assert (schema_of(farm, "readings"), schema_of(farm, "ledger")) == (1, 1)
    started(farm)
    assert schema_of(farm, "readings") == migrations("readings")[-1].number
    assert schema_of(farm, "ledger") == migrations("ledger")[-1].number
    lines, cultivar = told(farm, capsys)
    assert cultivar == "Meadow Blush"
    assert len(lines) == 50
    assert all(",3.25," in line for line in lines)
    started(farm)  # a second start changes nothing
    assert told(farm, capsys) == (lines, cultivar)


def test_a_copy_of_the_first_version_is_put_back_by_this_one(
    farm: Path, tmp_path: Path, capsys: Said
) -> None:
    """What was copied before an upgrade comes back after it, in another folder, and is whole."""
    copy, other = tmp_path / "copy.zip", tmp_path / "elsewhere"
    assert main(["backup", "--to", str(copy), "--farm", str(farm)]) == 0
    assert main(["restore", str(copy), "--farm", str(other)]) == 0
    started(other)
    lines, cultivar = told(other, capsys)
    assert (len(lines), cultivar) == (50, "Meadow Blush")
