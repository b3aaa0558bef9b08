"""Acknowledgements on their way to the network thread.

paho's own ``ack`` costs a queue entry, a byte on a wake-up socket and a write for each
message. Here any thread leaves a pack of acknowledgements, and the network thread, the
only one that touches the socket, writes the whole pack at once.
"""

import struct
import threading
from collections import deque
from collections.abc import Iterable
from itertools import groupby
from operator import attrgetter
from typing import Final

from monitor.model import Message

# PUBACK: type 4, remaining length 2, message id. In MQTT 5 the reason may be left out
# where it is 0 (MQTT 5.0, 3.4.2.1); the three bytes-long form is the same in 3.1.1.
_PUBACK: Final = struct.Struct("!BBH").pack
_HEAD: Final = 0x40
_LENGTH: Final = 2
SIZE: Final = 4


class Acknowledgements:
    """Packs of acknowledgements, each of the connection its messages came by."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._packs: deque[tuple[int, bytes]] = deque()
        self.dropped = 0

    def add(self, messages: Iterable[Message]) -> None:
        """Leave acknowledgements in the order of the messages; QoS 0 asks for none."""
        for connection, group in groupby(messages, key=attrgetter("connection")):
            pack = b"".join(_PUBACK(_HEAD, _LENGTH, m.message_id) for m in group if m.qos == 1)
            if pack:
                with self._lock:
                    self._packs.append((connection, pack))

    def take(self, connection: int) -> bytes:
        """Return what this connection may send; drop and count what an earlier one left."""
        with self._lock:
            packs = list(self._packs)
            self._packs.clear()
        mine = [pack for number, pack in packs if number == connection]
        self.dropped += sum(len(pack) for number, pack in packs if number != connection) // SIZE
        return b"".join(mine)
