"""Which messages the broker sends again though their readings are stored.

A message that was committed but whose acknowledgement did not arrive comes once more,
marked as a duplicate, with the same message id, within the same session. The ids and
checksums of the last messages committed recognise it.
"""

import zlib
from collections.abc import Iterable
from typing import Final

from monitor.model import Message

KEPT: Final = 4096


def checksum(message: Message) -> int:
    """Return the checksum of topic and payload."""
    return zlib.crc32(message.payload, zlib.crc32(message.topic.encode("utf-8", "replace")))


class Window:
    """Message ids and checksums of what was committed last, in memory.

    ``seen`` looks at one message and takes it in; ``changes`` says what the next commit
    has to write; ``keep`` or ``forget`` closes the commit.
    """

    def __init__(self, stored: Iterable[tuple[int, int]] = ()) -> None:
        self._kept: dict[int, int] = dict(stored)
        self._new: dict[int, int] = {}
        self._emptied = False
        self._connection = 0

    def __len__(self) -> int:
        return len(self._kept)

    def seen(self, message: Message) -> bool:
        """Return True for a redelivery of what is stored, or waits in this very commit."""
        if message.connection > self._connection:
            self._connection = message.connection
            if not message.resumed:
                self._new.clear()
                self._emptied = True
        if message.qos == 0:
            return False
        mark = checksum(message)
        if message.duplicate and message.resumed and self._find(message.message_id) == mark:
            return True
        self._new.pop(message.message_id, None)
        self._new[message.message_id] = mark
        return False

    def _find(self, message_id: int) -> int | None:
        mark = self._new.get(message_id)
        if mark is None and not self._emptied:
            mark = self._kept.get(message_id)
        return mark

    def changes(self) -> tuple[list[tuple[int, int]], bool]:
        """Return the pairs to be written, in order, and whether earlier ones are void."""
        return list(self._new.items()), self._emptied

    def keep(self) -> None:
        """Take the changes as written."""
        if self._emptied:
            self._kept.clear()
        for message_id, mark in self._new.items():
            self._kept.pop(message_id, None)
            self._kept[message_id] = mark
        while len(self._kept) > KEPT:
            del self._kept[next(iter(self._kept))]
        self._new.clear()
        self._emptied = False

    def forget(self) -> None:
        """Drop the changes of a commit that was given up: sent again, they are news."""
        self._new.clear()
