"""Open pages in hundreds, cut off without a word, and a stop among them."""

import socket
import struct
from collections.abc import Callable
from contextlib import ExitStack
from urllib.parse import urlsplit

import pytest

from tests.system.brokers import free_port, wait_until
from tests.system.daemons import Watched

pytestmark = pytest.mark.system

RESET = struct.pack("ii", 1, 0)  # closing sends a reset, as a phone out of reach does


def _stream(farm: Watched) -> tuple[socket.socket, bool]:
    """Open a live stream; return whether it was let in."""
    port = urlsplit(farm.address).port
    one = socket.create_connection(("127.0.0.1", port), 10)
    one.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, RESET)
    one.sendall(f"GET /live HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode())
    return one, one.recv(4096).startswith(b"HTTP/1.1 200")


def test_two_hundred_streams_cut_hard_leave_nothing_and_a_stop_waits_for_none(
    farms: Callable[..., Watched],
) -> None:
    """After four rounds of fifty every place is free again; with fifty open a stop is quick."""
    farm = farms(free_port()).start(ready=False)
    for _ in range(4):
        wait_until(lambda: _all_let_in(farm), 30)
    with ExitStack() as stack:
        for _ in range(50):
            stack.enter_context(_stream(farm)[0])
        assert farm.stop() < 5.0


def _all_let_in(farm: Watched) -> bool:
    """Open fifty, cut them, and return whether each had been let in."""
    opened = [_stream(farm) for _ in range(50)]
    for one, _ in opened:
        one.close()
    return all(let_in for _, let_in in opened)
