"""Tells the service manager that we are ready, alive and stopping (sd_notify protocol).

References
----------
systemd manual, sd_notify(3): datagrams of ``READY=1``, ``WATCHDOG=1``, ``STOPPING=1`` to the
socket named by ``NOTIFY_SOCKET`` (from memory).
"""

import os
import socket


def tell_manager(state: str) -> bool:
    """Send one state to the service manager; False where there is none."""
    address = os.environ.get("NOTIFY_SOCKET")
    if not address:
        return False
    target = "\0" + address[1:] if address.startswith("@") else address
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as line:
        line.sendto(state.encode(), target)
    return True
