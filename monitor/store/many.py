"""Writing many rows by few statements.

Each statement runs outside Python's lock from its first row to its last, so that the
threads that listen go on meanwhile; one statement a row would hand the lock to and fro.
"""

import sqlite3
from collections.abc import Sequence
from typing import Any, Final

_PIECES: Final = (200, 40, 8, 1)
"""Rows of a statement, few sizes: SQLite keeps the statements prepared."""


def write(connection: sqlite3.Connection, sql: str, columns: Sequence[Sequence[Any]]) -> None:
    """Run a statement once for many rows.

    Parameters
    ----------
    connection : sqlite3.Connection
        Within a transaction.
    sql : str
        Holds ``{rows}`` where ``(?, ?), (?, ?), …`` are to stand.
    columns : sequence of sequences
        The values, column by column, all of one length.
    """
    width, count = len(columns), len(columns[0])
    values: list[Any] = [None] * (width * count)
    for index, column in enumerate(columns):
        values[index::width] = column
    row = f"({', '.join('?' * width)})"
    done = 0
    for rows in _PIECES:
        text = sql.format(rows=", ".join([row] * rows))
        while count - done >= rows:
            connection.execute(text, values[done * width : (done + rows) * width])
            done += rows
