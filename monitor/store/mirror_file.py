"""How far a copy of the readings elsewhere has come: ``mirror.db``, a file of its own.

The readings keep their one writer. What this file says is always behind the truth, never
ahead: a cursor moves after the other side has taken what lies before it, in one transaction
with what was refused of it, so that an end at any moment means sending some again.
"""

import logging
import sqlite3
import threading
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final, NamedTuple, Self

from monitor.model import Channel, Quantity
from monitor.store.bounded import TEXT_LENGTH
from monitor.store.connection import DamagedError, connect_writer, explained, writing
from monitor.store.damage import check, set_aside
from monitor.store.migrating import migrate

REFUSED_KEPT: Final = 1_000

log = logging.getLogger("cormwatch")


@dataclass(frozen=True, slots=True)
class Position:
    """How far the copy has come.

    ``token`` and ``target`` say from which file and to where; ``cursors`` hold per channel the
    time of the last reading taken [ms]; ``late`` is the last span of late rows done, and
    ``late_at_ms`` how far the next one is [ms]. ``epoch`` changes when someone sets it back.
    """

    token: str = ""
    target: str = ""
    late: int = 0
    late_at_ms: int = 0
    epoch: int = 0
    cursors: Mapping[Channel, int] = field(default_factory=dict)


class Outcome(NamedTuple):
    """What has come of the copying: totals, the last success, since when and why it fails."""

    sent: int
    refused: int
    sent_ms: int | None
    failing_since_ms: int | None
    error: str


class RefusedReading(NamedTuple):
    """A reading that the other side refused, and why."""

    channel: Channel
    at_ms: int
    raw: float
    reason: str
    refused_ms: int


@dataclass(frozen=True, slots=True)
class Advance:
    """What one step has settled: cursors that move, late spans done, rows sent and refused."""

    cursors: Mapping[Channel, int]
    late: int
    late_at_ms: int
    sent: int
    refused: Sequence[RefusedReading] = ()


class MirrorFile:
    """A connection to ``mirror.db``; its methods may be called from any thread."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._lock = threading.RLock()
        self._connection = connect_writer(path)
        try:
            with explained(path):
                check(self._connection, path)
            migrate(self._connection, "mirror", path)
        except BaseException:
            self._connection.close()
            raise

    @classmethod
    def open(cls, path: Path) -> Self:
        """Open the file, making or migrating it.

        A damaged one is set aside: the copying begins anew, which costs time and loses nothing.

        Raises
        ------
        StoreError
            If its folder cannot be written.
        """
        try:
            return cls(path)
        except DamagedError:
            aside = set_aside(path)
            log.warning("%s was found damaged and set aside as %s", path.name, aside.name)
            return cls(path)

    def close(self) -> None:
        """Close the file."""
        with self._lock:
            self._connection.close()

    def position(self) -> Position:
        """Return how far the copy has come."""
        with self._lock, explained(self.path):
            token, target, late, late_at_ms, epoch = self._connection.execute(
                "SELECT token, target, late, late_at_ms, epoch FROM position"
            ).fetchone()
            cursors = self._connection.execute("SELECT * FROM cursors").fetchall()
        found = {Channel(one, Quantity(two)): at_ms for one, two, at_ms in cursors}
        return Position(token, target, late, late_at_ms, epoch, found)

    def begin(
        self, token: str, target: str, late: int, cursors: Mapping[Channel, int] | None = None
    ) -> None:
        """Begin anew: nothing is taken yet of this file at that place, but what ``cursors`` say."""
        with self._writing() as connection:
            connection.execute("DELETE FROM cursors")
            _move(connection, cursors or {})
            connection.execute(
                "UPDATE position SET token = ?, target = ?, late = ?, late_at_ms = 0,"
                " epoch = epoch + 1", (token, target, late),
            )  # fmt: skip

    def set_back(self, at_ms: int) -> None:
        """Have everything from a time on sent again. [ms]"""
        with self._writing() as connection:
            connection.execute("UPDATE cursors SET at_ms = min(at_ms, ?)", (at_ms - 1,))
            connection.execute("UPDATE position SET epoch = epoch + 1")

    def advance(self, epoch: int, step: Advance, now_ms: int) -> bool:
        """Note what a step has settled; return False where the position was set back meanwhile."""
        with self._writing() as connection:
            if connection.execute("SELECT epoch FROM position").fetchone()[0] != epoch:
                return False
            _move(connection, step.cursors)
            connection.execute(
                "UPDATE position SET late = ?, late_at_ms = ?", (step.late, step.late_at_ms)
            )
            connection.execute(
                "UPDATE outcome SET sent = sent + ?, refused = refused + ?,"
                " sent_ms = CASE WHEN ? THEN ? ELSE sent_ms END",
                (step.sent, len(step.refused), step.sent, now_ms),
            )
            _set_aside(connection, step.refused)
        return True

    def fail(self, now_ms: int, error: str) -> None:
        """Note that the other side cannot be written to, and since when. [ms]"""
        with self._writing() as connection:
            connection.execute(
                "UPDATE outcome SET failing_since_ms = coalesce(failing_since_ms, ?), error = ?",
                (now_ms, error[:TEXT_LENGTH]),
            )

    def succeed(self) -> None:
        """Note that the other side takes what is sent."""
        with self._writing() as connection:
            connection.execute("UPDATE outcome SET failing_since_ms = NULL, error = ''")

    def outcome(self) -> Outcome:
        """Return what has come of it so far."""
        with self._lock, explained(self.path):
            row = self._connection.execute(
                "SELECT sent, refused, sent_ms, failing_since_ms, error FROM outcome"
            ).fetchone()
        return Outcome(*row)

    def refused(self, limit: int = 100) -> list[RefusedReading]:
        """Return the newest refused readings, newest first."""
        with self._lock, explained(self.path):
            rows = self._connection.execute(
                "SELECT sensor, quantity, at_ms, raw, reason, refused_ms FROM refused"
                " ORDER BY id DESC LIMIT ?", (limit,)
            ).fetchall()  # fmt: skip
        return [RefusedReading(Channel(one, Quantity(two)), *row) for one, two, *row in rows]

    @contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        with self._lock, explained(self.path), writing(self._connection):
            yield self._connection


def _move(connection: sqlite3.Connection, cursors: Mapping[Channel, int]) -> None:
    connection.executemany(
        "INSERT INTO cursors VALUES (?, ?, ?)"
        " ON CONFLICT (sensor, quantity) DO UPDATE SET at_ms = excluded.at_ms",
        [(*channel, at_ms) for channel, at_ms in cursors.items()],
    )


def _set_aside(connection: sqlite3.Connection, refused: Sequence[RefusedReading]) -> None:
    if not refused:
        return
    connection.executemany(
        "INSERT INTO refused (sensor, quantity, at_ms, raw, reason, refused_ms)"
        " VALUES (?, ?, ?, ?, ?, ?)",
        [
            (*each.channel, each.at_ms, each.raw, each.reason[:TEXT_LENGTH], each.refused_ms)
            for each in refused
        ],
    )
    connection.execute(
        "DELETE FROM refused WHERE id <= (SELECT max(id) FROM refused) - ?", (REFUSED_KEPT,)
    )
