"""Readings in the order that lets a copy elsewhere miss none: by time, and what came late."""

from typing import NamedTuple

from monitor.model import Channel, Quantity
from monitor.store.reader import ReadingReader


class Late(NamedTuple):
    """A span of a channel [ms] in which rows were written behind its newest; both ends inside."""

    id: int
    channel: Channel
    from_ms: int
    to_ms: int


class Standing(NamedTuple):
    """How a file stands at one moment.

    ``token`` names the file: another begun in its place has another. ``heads`` are the newest
    times per channel [ms]. Spans of late rows are numbered from ``first_late`` to ``last_late``;
    those before have been dropped.
    """

    token: str
    heads: dict[Channel, int]
    first_late: int
    last_late: int


class ArrivalReader(ReadingReader):
    """A reader for whoever copies every reading elsewhere.

    A row with a time after a channel's cursor is found by time; one that was written behind
    the newest stands in a span of ``late_after``. A copy that has taken a channel up to its
    cursor, and then the spans up to the last, has every row, however it arrived.
    """

    def standing(self) -> Standing:
        """Return how the file stands."""
        with self._reading() as connection:
            token = connection.execute("SELECT token FROM identity").fetchone()[0]
            heads = connection.execute(
                "SELECT sensor, quantity, at_ms FROM channels WHERE at_ms IS NOT NULL"
            ).fetchall()
            first, last = connection.execute(
                "SELECT (SELECT min(id) FROM late),"
                " (SELECT seq FROM sqlite_sequence WHERE name = 'late')"
            ).fetchone()
        by_channel = {Channel(one, Quantity(two)): at_ms for one, two, at_ms in heads}
        return Standing(token, by_channel, first or (last or 0) + 1, last or 0)

    def late_after(self, number: int, limit: int) -> list[Late]:
        """Return the next spans of late rows."""
        with self._reading() as connection:
            rows = connection.execute(
                "SELECT late.id, sensor, quantity, from_ms, to_ms FROM late"
                " JOIN channels ON channels.id = late.channel"
                " WHERE late.id > ? ORDER BY late.id LIMIT ?", (number, limit)
            ).fetchall()  # fmt: skip
        return [Late(id_, Channel(one, Quantity(two)), *span) for id_, one, two, *span in rows]

    def count(self, channel: Channel, since_ms: int, until_ms: int) -> int:
        """Return how many readings of a channel lie in a span of time."""
        with self._reading() as connection:
            n: int = connection.execute(
                "SELECT count(*) FROM readings WHERE channel = ? AND at_ms >= ? AND at_ms < ?",
                (self._number(channel), since_ms, until_ms),
            ).fetchone()[0]
        return n
