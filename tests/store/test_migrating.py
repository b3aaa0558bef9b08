"""Schemas move forward only."""

import sqlite3
from pathlib import Path

import pytest

from monitor.errors import SchemaNewerError, StoreError
from monitor.store import Ledger, ReadingReader, ReadingStore, migrating
from monitor.store.connection import connect_writer
from monitor.store.migrating import Migration, migrate, migrations, statements


@pytest.mark.parametrize("store", [ReadingStore, Ledger])
def test_a_newer_schema_is_refused_in_a_clear_line(
    tmp_path: Path, store: type[ReadingStore] | type[Ledger]
) -> None:
    """A file of a newer version is left alone, and the message says how to go on."""
    path = tmp_path / "file.db"
    store.open(path).close()
    with sqlite3.connect(path) as newer:
        newer.execute("INSERT INTO migrations VALUES (99, '0099_later.sql')")
    newer.close()
    before = path.read_bytes()
    with pytest.raises(SchemaNewerError, match=r"file\.db has schema 99.*newer version.*upgrade"):
        store.open(path)
    if store is ReadingStore:
        with pytest.raises(SchemaNewerError, match="newer version"):
            ReadingReader(path).newest()
    assert path.read_bytes() == before


@pytest.mark.parametrize("schema", ["readings", "ledger"])
def test_migrations_are_numbered_without_a_gap(schema: str) -> None:
    """Steps count from one, so the number of the last says what is done."""
    steps = migrations(schema)
    assert [step.number for step in steps] == list(range(1, len(steps) + 1))


def test_a_step_that_fails_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A migration and its record are one transaction."""
    steps = [
        Migration(1, "0001_a.sql", "CREATE TABLE a (x);\n"),
        Migration(2, "0002_b.sql", "CREATE TABLE b (x);\nCREATE TABLE a (x);\n"),
    ]
    monkeypatch.setattr(migrating, "migrations", lambda _: steps)
    connection = connect_writer(tmp_path / "file.db")
    with pytest.raises(StoreError, match="already exists"):
        migrate(connection, "any", tmp_path / "file.db")
    names = {row[0] for row in connection.execute("SELECT name FROM sqlite_master")}
    assert names == {"migrations", "a"}
    assert connection.execute("SELECT number FROM migrations").fetchall() == [(1,)]
    connection.close()


def test_links_that_were_sent_outlast_the_step_that_frees_them_of_alarms(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A link of the schema before is kept whole, and still names its alarm."""
    path = tmp_path / "ledger.db"
    connection = connect_writer(path)
    with monkeypatch.context() as before:
        before.setattr(migrating, "migrations", lambda _: migrations("ledger")[:2])
        migrate(connection, "ledger", path)
    connection.execute("PRAGMA foreign_keys = OFF")  # the alarm itself is of no concern here
    connection.execute("INSERT INTO links VALUES (4, 'hash', 7, 9, 'wren', 'seen', 1, 2, NULL)")
    migrate(connection, "ledger", path)
    kept = connection.execute("SELECT * FROM links").fetchall()
    assert kept == [(4, "hash", 7, 9, "wren", "seen", 1, 2, None)]
    connection.close()


def test_every_statement_of_a_file_is_run() -> None:
    """Splitting loses nothing: a trigger's body stays whole."""
    text = "".join(step.text for step in migrations("ledger"))
    assert "".join(statements(text)) == text
    assert sum("CREATE TRIGGER" in each for each in statements(text)) == text.count(
        "CREATE TRIGGER"
    )
