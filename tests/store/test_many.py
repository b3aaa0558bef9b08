"""Many rows by few statements."""

import sqlite3
from contextlib import closing

import pytest

from monitor.store import many


@pytest.mark.parametrize("count", [1, 7, 8, 41, 200, 1234])
def test_every_row_is_written_once_and_in_order(count: int) -> None:
    """However the rows are cut into statements, all of them arrive."""
    rows = [(n, f"text {n}", n / 4) for n in range(count)]
    with closing(sqlite3.connect(":memory:")) as connection:
        connection.execute("CREATE TABLE made (a, b, c)")
        columns = tuple(zip(*rows, strict=True))
        many.write(connection, "INSERT INTO made VALUES {rows}", columns)
        assert connection.execute("SELECT * FROM made ORDER BY rowid").fetchall() == rows


def test_rows_that_meet_in_one_statement_are_joined_like_any_others() -> None:
    """A conflict clause holds between rows of one statement too."""
    with closing(sqlite3.connect(":memory:")) as connection:
        connection.execute("CREATE TABLE made (a PRIMARY KEY, n)")
        sql = "INSERT INTO made VALUES {rows} ON CONFLICT (a) DO UPDATE SET n = n + excluded.n"
        many.write(connection, sql, ([1, 2, 1, 1], [10, 20, 30, 40]))
        assert connection.execute("SELECT * FROM made ORDER BY a").fetchall() == [(1, 80), (2, 20)]
