"""Migrations: numbered SQL files, each in one transaction with its record."""

import sqlite3
from importlib.resources import files
from pathlib import Path
from typing import Final, NamedTuple

from monitor.errors import SchemaNewerError, StoreError
from monitor.store.connection import explained, writing

_RECORD: Final = """
CREATE TABLE IF NOT EXISTS migrations (number INTEGER PRIMARY KEY, name TEXT NOT NULL)
"""


class Migration(NamedTuple):
    """One step of a schema."""

    number: int
    name: str
    text: str


def migrations(schema: str) -> list[Migration]:
    """Return a schema's steps in order; ``schema`` is ``"readings"`` or ``"ledger"``."""
    folder = files("monitor.store") / "migrations" / schema
    found = [each for each in folder.iterdir() if each.name.endswith(".sql")]
    steps = (Migration(int(each.name[:4]), each.name, each.read_text("utf-8")) for each in found)
    return sorted(steps)


def migrate(connection: sqlite3.Connection, schema: str, path: Path) -> None:
    """Bring a file to this program's schema.

    Raises
    ------
    SchemaNewerError
        If a newer version of the program wrote it.
    StoreError
        If the file cannot be read or written.
    """
    steps = migrations(schema)
    with explained(path):
        for step in steps[_known(connection, steps, path) :]:
            _apply(connection, step)


def require(connection: sqlite3.Connection, schema: str, path: Path) -> None:
    """Check that a file has just this program's schema, for those who only read it.

    Raises
    ------
    SchemaNewerError
        If a newer version of the program wrote it.
    StoreError
        If it is not set up, or not brought up to this version yet.
    """
    steps = migrations(schema)
    if _known(connection, steps, path) < steps[-1].number:
        raise StoreError(f"{path} is not set up for this version yet; run: cormwatch run")


def _known(connection: sqlite3.Connection, steps: list[Migration], path: Path) -> int:
    done = _done(connection)
    if done > steps[-1].number:
        raise SchemaNewerError(
            f"{path} has schema {done}, this cormwatch knows up to {steps[-1].number}: "
            "a newer version wrote it; upgrade with: pip install --upgrade cormwatch"
        )
    return done


def _done(connection: sqlite3.Connection) -> int:
    known = connection.execute(
        "SELECT count(*) FROM sqlite_master WHERE name = 'migrations'"
    ).fetchone()[0]
    if not known:
        return 0
    number: int = connection.execute("SELECT coalesce(max(number), 0) FROM migrations").fetchone()[
        0
    ]
    return number


def _apply(connection: sqlite3.Connection, step: Migration) -> None:
    with writing(connection):
        connection.execute(_RECORD)
        if _done(connection) >= step.number:  # another process was faster
            return
        for statement in statements(step.text):
            connection.execute(statement)
        connection.execute("INSERT INTO migrations VALUES (?, ?)", step[:2])


def statements(text: str) -> list[str]:
    """Split SQL text at the ends of its statements; a trigger's body stays whole."""
    whole: list[str] = []
    held = ""
    for line in text.splitlines(keepends=True):
        held += line
        if sqlite3.complete_statement(held):
            whole.append(held)
            held = ""
    return whole
