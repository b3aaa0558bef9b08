"""Tables that are kept short: refusals, unclaimed topics, conflicts, gaps."""

import sqlite3
from collections.abc import Iterable, Sequence
from typing import Final

from monitor.model import Refusal
from monitor.store.records import Gap, UnclaimedTopic

REFUSALS_KEPT: Final = 1_000
UNCLAIMED_KEPT: Final = 200
CONFLICTS_KEPT: Final = 1_000
GAPS_KEPT: Final = 1_000
COUNTS_KEPT: Final = 1_000
PAYLOAD_BYTES: Final = 512
TEXT_LENGTH: Final = 400


def add_refusals(connection: sqlite3.Connection, refusals: Sequence[Refusal]) -> None:
    """Keep the newest refusals with their reasons, and count each reason for good."""
    connection.executemany(
        "INSERT INTO refusals (received_ms, topic, sensor, quantity, reason, detail, payload)"
        " VALUES (?, ?, ?, ?, ?, ?, ?)",
        [
            (
                each.received_ms, _clean(each.topic), each.sensor, each.quantity,
                _clean(each.reason), _clean(each.detail), each.payload[:PAYLOAD_BYTES],
            )
            for each in refusals
        ],
    )  # fmt: skip
    connection.executemany(
        "INSERT INTO refusal_counts VALUES (?, ?, 1, ?) ON CONFLICT (sensor, reason)"
        " DO UPDATE SET n = n + 1, last_ms = excluded.last_ms",
        [(each.sensor or "", _clean(each.reason), each.received_ms) for each in refusals],
    )
    _keep_newest(connection, "refusals", REFUSALS_KEPT)
    connection.execute(
        "DELETE FROM refusal_counts WHERE (sensor, reason) NOT IN (SELECT sensor, reason"
        " FROM refusal_counts ORDER BY last_ms DESC LIMIT ?)", (COUNTS_KEPT,)
    )  # fmt: skip


def add_unclaimed(connection: sqlite3.Connection, topics: Iterable[UnclaimedTopic]) -> None:
    """Remember topics no sensor claims; those not heard for longest make room."""
    connection.executemany(
        "INSERT INTO unclaimed VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT (topic) DO UPDATE SET"
        " first_ms = min(first_ms, excluded.first_ms), last_ms = max(last_ms, excluded.last_ms),"
        " n = n + excluded.n, sample = excluded.sample, guess = excluded.guess",
        [
            (_clean(each.topic), each.first_ms, each.last_ms, each.count,
             each.sample[:PAYLOAD_BYTES], _clean(each.guess))
            for each in topics
        ],
    )  # fmt: skip
    connection.execute(
        "DELETE FROM unclaimed WHERE topic NOT IN"
        " (SELECT topic FROM unclaimed ORDER BY last_ms DESC, topic LIMIT ?)", (UNCLAIMED_KEPT,)
    )  # fmt: skip


def add_conflicts(
    connection: sqlite3.Connection, conflicts: Iterable[tuple[int, int, float, float, int]]
) -> None:
    """Keep the newest pairs of values that claimed one sample time."""
    connection.executemany(
        "INSERT INTO conflicts (channel, at_ms, kept, refused, received_ms)"
        " VALUES (?, ?, ?, ?, ?)", conflicts,
    )  # fmt: skip
    _keep_newest(connection, "conflicts", CONFLICTS_KEPT)


def add_gaps(connection: sqlite3.Connection, gaps: Iterable[Gap]) -> None:
    """Keep the newest spans in which readings were heard but not kept, each once."""
    rows = [(each.from_ms, each.to_ms, _clean(each.why), each.count) for each in gaps]
    connection.executemany(
        "INSERT INTO gaps (from_ms, to_ms, why, n) SELECT ?1, ?2, ?3, ?4 WHERE NOT EXISTS"
        " (SELECT 1 FROM gaps WHERE from_ms = ?1 AND to_ms = ?2 AND why = ?3 AND n = ?4)", rows,
    )  # fmt: skip
    _keep_newest(connection, "gaps", GAPS_KEPT)


def _keep_newest(connection: sqlite3.Connection, table: str, kept: int) -> None:
    connection.execute(
        f"DELETE FROM {table} WHERE id <= (SELECT max(id) FROM {table}) - ?", (kept,)
    )


def _clean(text: str) -> str:
    """Return a text SQLite can take: no lone surrogates, not too long."""
    return text[:TEXT_LENGTH].encode("utf-8", "replace").decode("utf-8")
