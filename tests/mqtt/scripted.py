"""A broker of a few lines: it refuses some filters and otherwise echoes to everybody.

MQTT 3.1.1 with packets under 128 bytes only, which is all these tests send.
"""

import contextlib
import socket
import threading
from collections.abc import Iterable

CONNECT, PUBLISH, SUBSCRIBE, UNSUBSCRIBE = 1, 3, 8, 10


def _filters(body: bytes, after: int) -> list[str]:
    """Return the filters of a body without its message id, each with bytes after it."""
    found, at = [], 0
    while at < len(body):
        size = int.from_bytes(body[at : at + 2], "big")
        found.append(body[at + 2 : at + 2 + size].decode())
        at += 2 + size + after
    return found


class ScriptedBroker:
    """Listens on a free port of the loopback until it is closed."""

    def __init__(self, refused: Iterable[str] = ()) -> None:
        self.refused = set(refused)
        self.asked: list[list[str]] = []
        self.given_up: list[str] = []
        self._door = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._door.getsockname()[1]
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def close(self) -> None:
        """Shut the door."""
        self._door.shutdown(socket.SHUT_RDWR)
        self._door.close()
        self._thread.join(5)

    def _serve(self) -> None:
        while True:
            try:
                near, _ = self._door.accept()
            except OSError:
                return
            with near, near.makefile("rb") as stream, contextlib.suppress(OSError):
                while (head := stream.read(2)) and len(head) == 2:
                    near.sendall(self._answer(head[0], stream.read(head[1])))

    def _answer(self, head: int, body: bytes) -> bytes:
        kind = head >> 4
        if kind == CONNECT:
            return b"\x20\x02\x00\x00"
        if kind == SUBSCRIBE:
            filters = _filters(body[2:], 1)
            self.asked.append(filters)
            codes = bytes(0x80 if text in self.refused else 1 for text in filters)
            return bytes([0x90, 2 + len(codes)]) + body[:2] + codes
        if kind == UNSUBSCRIBE:
            self.given_up += _filters(body[2:], 0)
            return b"\xb0\x02" + body[:2]
        if kind == PUBLISH and head & 0x06:
            size = int.from_bytes(body[:2], "big") + 2
            return b"\x40\x02" + body[size : size + 2] + bytes([head & ~1, len(body)]) + body
        return b""
