"""The readings file: one writer, whole commits, summaries in the same transaction."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Self

import numpy as np

from monitor.model import Channel, Quantity, Reading
from monitor.store import bounded, summing
from monitor.store.coding import encode
from monitor.store.columns import Columns, columns
from monitor.store.connection import (
    DamagedError,
    connect_writer,
    data_version,
    explained,
    writing,
)
from monitor.store.damage import check, set_aside
from monitor.store.migrating import migrate
from monitor.store.reader import ReadingReader
from monitor.store.records import Commit, Committed
from monitor.store.salvage import Salvage
from monitor.store.sifting import sift
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
        try:
            return cls(path)
        except DamagedError as error:
            aside = set_aside(path)
            store = cls(path)
            store._begin_salvage(aside, str(error), OPENING_S)
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

    def salvage(self, budget_s: float) -> bool:
        """Save more of a damaged file for a while [s]; return whether some is left."""
        if self._salvage is None:
            return False
        for part in self._salvage.parts(budget_s):
            with self._transaction():
                self._keep(self._columns(part))
        told = self._salvage.told()
        if told is None:
            return True
        self.notices.append(told)
        self._salvage.close()
        self._salvage = None
        return False

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

    def _learn(self) -> None:
        """Read what the writer keeps in mind: channels, their newest times, the window."""
        self._version = data_version(self._connection)
        rows = self._connection.execute(
            "SELECT id, sensor, quantity, at_ms FROM channels"
        ).fetchall()
        self._window = Window(self._connection)
        self._numbers = {Channel(sensor, Quantity(what)): id_ for id_, sensor, what, _ in rows}
        self._newest_ms = {id_: at_ms for id_, _, _, at_ms in rows if at_ms is not None}

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        """One write transaction; what is kept in mind follows the file, not the attempt."""
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
            done = self._keep(self._columns(work.readings))
            self._keep_rest(work)
        return done

    def _columns(self, readings: Sequence[Reading]) -> Columns:
        numbers = self._numbers
        for channel in {each.channel for each in readings}.difference(numbers):
            numbers[channel] = self._new_channel(channel)
        return columns(readings, [numbers[each.channel] for each in readings])

    def _new_channel(self, channel: Channel) -> int:
        added = self._connection.execute(
            "INSERT INTO channels (sensor, quantity) VALUES (?, ?)", channel
        )
        return added.lastrowid or 0

    def _keep(self, arrived: Columns) -> Committed:
        finite = np.isfinite(arrived.raw)
        sifted = sift(self._connection, arrived.chosen(finite), self._newest_ms)
        if len(sifted.kept):
            self._write(sifted.kept)
        if sifted.conflicts:
            bounded.add_conflicts(self._connection, sifted.conflicts)
        return Committed(
            stored=len(sifted.kept),
            repeated=sifted.repeated,
            conflicting=len(sifted.conflicts),
            not_finite=len(arrived) - int(finite.sum()),
        )

    def _write(self, kept: Columns) -> None:
        stored = encode(kept.raw)
        self._connection.executemany(
            "INSERT INTO readings VALUES (?, ?, ?, ?)",
            zip(
                kept.channel.tolist(), kept.at_ms.tolist(), stored, kept.flags.tolist(),
                strict=True,
            ),
        )  # fmt: skip
        summing.add(self._connection, kept)
        self._note_newest(kept, stored)

    def _note_newest(self, kept: Columns, stored: Sequence[int | float]) -> None:
        last = np.flatnonzero(np.append(np.diff(kept.channel) != 0, True))
        for at in last.tolist():
            number, at_ms = int(kept.channel[at]), int(kept.at_ms[at])
            if at_ms <= self._newest_ms.get(number, at_ms - 1):
                continue
            self._newest_ms[number] = at_ms
            row = (at_ms, stored[at], int(kept.flags[at]), int(kept.received_ms[at]), number)
            self._connection.execute(
                "UPDATE channels SET at_ms = ?, raw = ?, flags = ?, received_ms = ? WHERE id = ?",
                row,
            )

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
        self._connection.close()
        aside = set_aside(self.path)
        self._damage = ""
        self._connect()
        self._begin_salvage(aside, why, STEP_S)

    def _begin_salvage(self, aside: Path, why: str, budget_s: float) -> None:
        if self._salvage is not None:
            self._salvage.close()
        self._salvage = Salvage(aside)
        self.notices.append(
            f"{self.path.name} was found damaged and set aside as {aside.name} "
            f"({why.partition(';')[0]}); a new file is open, and what can be read of the old "
            "one is being copied over"
        )
        self.salvage(budget_s)
