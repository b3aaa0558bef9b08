"""The window of recently committed messages, by which a redelivery is recognised."""

import sqlite3
import struct
from collections import deque
from collections.abc import Sequence
from typing import Final, TypeGuard

KEPT: Final = 4_096
"""Messages kept: well over the largest number a broker has in flight to us (1,000)."""
_PAIR: Final = struct.Struct("<HQ")
_MASK: Final = 2**64 - 1


def packed(pairs: Sequence[tuple[int, int]]) -> bytes:
    """Return (message id, checksum) pairs as bytes."""
    return b"".join(_PAIR.pack(number & 0xFFFF, checksum & _MASK) for number, checksum in pairs)


def unpacked(rows: Sequence[tuple[bytes]]) -> list[tuple[int, int]]:
    """Return the pairs of some rows, oldest first."""
    return [pair for (pairs,) in rows for pair in _PAIR.iter_unpack(pairs)]


def whole(pairs: object) -> TypeGuard[bytes]:
    """Return whether bytes from a damaged file are pairs."""
    return isinstance(pairs, bytes) and len(pairs) % _PAIR.size == 0


class Window:
    """Keeps the rows few: each commit adds one, and drops those that are no longer needed."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection
        rows = connection.execute(
            "SELECT id, length(pairs) FROM recent_messages ORDER BY id"
        ).fetchall()
        self._rows = deque((number, size // _PAIR.size) for number, size in rows)
        self._messages = sum(n for _, n in self._rows)

    def clear(self) -> None:
        """Forget all: the broker has no session of ours, its message ids begin anew."""
        self._connection.execute("DELETE FROM recent_messages")
        self._rows.clear()
        self._messages = 0

    def add(self, pairs: Sequence[tuple[int, int]]) -> None:
        """Remember the messages of one commit."""
        number = self._connection.execute(
            "INSERT INTO recent_messages (pairs) VALUES (?)", (packed(pairs),)
        ).lastrowid
        self._rows.append((number or 0, len(pairs)))
        self._messages += len(pairs)
        self._drop()

    def _drop(self) -> None:
        last = 0
        while self._messages - self._rows[0][1] >= KEPT:
            last, n = self._rows.popleft()
            self._messages -= n
        if last:
            self._connection.execute("DELETE FROM recent_messages WHERE id <= ?", (last,))
