"""A wire between a client and a server that can be cut, or fall silent without a word."""

import contextlib
import socket
import struct
import threading
from typing import Final

_RESET: Final = struct.pack("ii", 1, 0)
_CHUNK: Final = 65_536


class Relay:
    """Passes bytes on, both ways, from its own ``port`` of the loopback to another."""

    def __init__(self, to_port: int) -> None:
        self._to_port = to_port
        self._door = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._door.getsockname()[1]
        self._whole, self._flows = threading.Event(), threading.Event()
        self._open: set[socket.socket] = set()
        self._lock = threading.Lock()
        self.heal()
        threading.Thread(target=self._welcome, daemon=True).start()

    def cut(self) -> None:
        """Reset what is open, and let nobody through."""
        self._whole.clear()
        self._reset()

    def stall(self) -> None:
        """Hold back every byte, both ways, and say nothing of it."""
        self._flows.clear()

    def heal(self) -> None:
        """Let everything through again; what was held back meanwhile is lost with its wire."""
        if not self._flows.is_set():
            self._reset()
        self._whole.set()
        self._flows.set()

    def close(self) -> None:
        """Take it down."""
        self.cut()
        self._flows.set()
        self._door.close()

    def _reset(self) -> None:
        with self._lock:
            gone, self._open = self._open, set()
        for each in gone:
            with contextlib.suppress(OSError):
                each.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, _RESET)
                each.shutdown(socket.SHUT_RDWR)
            each.close()

    def _welcome(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                here, _ = self._door.accept()
                if not self._whole.is_set():
                    here.close()
                    continue
                try:
                    there = socket.create_connection(("127.0.0.1", self._to_port), 5)
                except OSError:
                    here.close()
                    continue
                there.settimeout(None)
                with self._lock:
                    self._open |= {here, there}
                for pair in ((here, there), (there, here)):
                    threading.Thread(target=self._pass_on, args=pair, daemon=True).start()

    def _pass_on(self, source: socket.socket, sink: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while data := source.recv(_CHUNK):
                self._flows.wait()
                sink.sendall(data)
        for each in (source, sink):
            with contextlib.suppress(OSError):
                each.shutdown(socket.SHUT_RDWR)
