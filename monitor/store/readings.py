"""The readings file: one writer, whole commits, summaries in the same transaction."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Self

from monitor.model import Channel, Flag
from monitor.store import bounded
from monitor.store.connection import (
    DamagedError,
    connect_writer,
    data_version,
    explained,
    file_id,
    writing,
)
from monitor.store.damage import check, emptied, set_aside
from monitor.store.migrating import migrate
from monitor.store.reader import ReadingReader
from monitor.store.records import Commit, Committed
from monitor.store.rows import Rows
from monitor.store.salvage import Salvage, unfinished
from monitor.store.thinned import Choose, thin
from monitor.store.window import Window

OPENING_S = 2.0
"""How long opening may spend on saving what a damaged file still holds. [s]"""
STEP_S = 0.05
"""How long each commit may spend on the rest. [s]"""


class ReadingStore:
    """The only writer of ``readings.db``, used from one thread; see ``open``.

    ``notices`` tells what a person should hear of: a damaged file set aside, what could
    be saved of it. Whoever shows them may empty the list.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.notices: list[str] = []
        self._salvage: Salvage | None = None
        self._damage = ""
        self._file: tuple[int, int] | None = None
        self._connect()

    @classmethod
    def open(cls, path: Path) -> Self:
        """Open the file, making or migrating it; a damaged one is set aside and saved from.

        Parameters
        ----------
        path : Path
            The file, usually ``data/readings.db`` of a farm; its folder is made.

        Raises
        ------
        SchemaNewerError
            If a newer version of the program wrote it.
        StoreError
            If the folder cannot be written.
        """
        lost = f"{path} was empty, as a power cut leaves it: begun anew" if emptied(path) else ""
        try:
            store = cls(path)
        except DamagedError as error:
            aside = set_aside(path)
            store = cls(path)
            store._begin_salvage(aside, str(error))
        if lost:
            store.notices.append(lost)
        store._salvage = unfinished(path)
        store.salvage(OPENING_S)
        return store

    def commit(self, work: Commit) -> Committed:
        """Write all of ``work`` in one transaction; on the disk when it returns.

        A file found damaged is set aside, a new one opened and the work written there.

        Raises
        ------
        StoreError
            If nothing of it could be written.
        """
        if self._damage:
            self._replace(self._damage)
        try:
            done = self._commit(work)
        except DamagedError as error:
            self._replace(str(error))
            done = self._commit(work)
        if self._salvage is not None:
            self.salvage(STEP_S)
        return done

    def mark_unsure(self, since_ms: int, until_ms: int) -> int:
        """Mark readings timed by a clock that was wrong; return how many. [ms, inclusive]

        Raises
        ------
        StoreError
            If the marks could not be written.
        """
        with self._transaction():
            return self._rows.mark(Flag.CLOCK_UNSURE, since_ms, until_ms)

    def thin(
        self, channel: Channel, since_ms: int, until_ms: int, choose: Choose
    ) -> tuple[int, int]:
        """Take readings of a span away, in one short transaction; summaries stay as they are.

        ``choose`` is given the span's readings as they stand in that transaction, and returns
        those that stay, or None to leave all. Returns how many there were, and are.
        """
        with self._transaction():
            row = self._connection.execute(
                "SELECT id FROM channels WHERE sensor = ? AND quantity = ?", channel
            ).fetchone()
            return (
                (0, 0)
                if row is None
                else thin(self._connection, row[0], since_ms, until_ms, choose)
            )

    def salvage(self, budget_s: float) -> bool:
        """Save more of a damaged file for a while [s]; return whether some is left."""
        if self._salvage is None:
            return False
        for part in self._salvage.parts(budget_s):
            with self._transaction():
                self._rows.keep(part, certain=True)
        told = self._salvage.told()
        if told is None:
            return True
        self.notices.append(told)
        self._salvage.close()
        self._salvage = unfinished(self.path)
        return self._salvage is not None

    def reader(self) -> ReadingReader:
        """Return a reader with a connection of its own, for any one thread."""
        return ReadingReader(self.path, self._told_damage)

    def _told_damage(self, what: str) -> None:
        """Remember, from any thread, that a reader met damage: the next commit mends it."""
        self._damage = what

    def close(self) -> None:
        """Close the file; the write-ahead log is copied into it."""
        if self._salvage is not None:
            self._salvage.close()
        self._connection.close()

    def _connect(self) -> None:
        self._connection = connect_writer(self.path)
        try:
            migrate(self._connection, "readings", self.path)
            with explained(self.path):
                check(self._connection, self.path)
                self._learn()
        except BaseException:
            self._connection.close()
            raise
        self._file = file_id(self.path)

    def _learn(self) -> None:
        """Read what the writer keeps in mind."""
        self._version = data_version(self._connection)
        self._rows = Rows(self._connection)
        self._window = Window(self._connection)

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        """One write transaction; what is kept in mind follows the file, not the attempt."""
        if self._file is None or file_id(self.path) != self._file:
            self._let_go()  # another process has set it aside, or restored one
            self._connect()
        try:
            with explained(self.path), writing(self._connection):
                if data_version(self._connection) != self._version:
                    self._learn()
                yield
        except BaseException:
            self._version = -1
            raise

    def _commit(self, work: Commit) -> Committed:
        with self._transaction():
            done = self._rows.keep(work.readings)
            self._keep_rest(work)
        return done

    def _keep_rest(self, work: Commit) -> None:
        self._keep_heard(work.heard)
        if work.clear_window:
            self._window.clear()
        if work.window:
            self._window.add(work.window)
        if work.refusals:
            bounded.add_refusals(self._connection, work.refusals)
        if work.unclaimed:
            bounded.add_unclaimed(self._connection, work.unclaimed)
        if work.gaps:
            bounded.add_gaps(self._connection, work.gaps)

    def _keep_heard(self, heard: Mapping[str, int]) -> None:
        self._connection.executemany(
            "INSERT INTO heard VALUES (?, ?)"
            " ON CONFLICT (sensor) DO UPDATE SET received_ms = excluded.received_ms",
            heard.items(),
        )

    def _replace(self, why: str) -> None:
        if self._salvage is not None:
            self._salvage.close()
        self._let_go()
        aside = set_aside(self.path)
        self._damage = ""
        self._connect()
        self._begin_salvage(aside, why)

    def _let_go(self) -> None:
        self._connection.close()
        self._file = None

    def _begin_salvage(self, aside: Path, why: str) -> None:
        """Take over what is short and needed at once; the readings follow bit by bit."""
        self._salvage = Salvage(aside)
        with self._transaction():
            self._keep_heard(self._salvage.heard())
            self._window.add(self._salvage.window())
        self.notices.append(
            f"{self.path.name} was found damaged and set aside as {aside.name} "
            f"({why.partition(';')[0]}); a new file is open, and what can be read of the old "
            "one is being copied over"
        )
