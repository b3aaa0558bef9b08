"""A real mosquitto on a free port of the loopback, started and ended by the tests."""

import os
import shutil
import signal
import socket
import subprocess
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

_BASE = """\
listener {port} 127.0.0.1
persistence true
persistence_location {folder}/
autosave_interval 1
max_queued_messages 0
max_inflight_messages 1000
log_type none
"""


def program() -> str:
    """Return mosquitto's path; without it the test is skipped, or fails where CI is set."""
    found = shutil.which("mosquitto", path=f"{os.environ.get('PATH', '')}:/usr/sbin")
    if found is not None:
        return found
    if os.environ.get("CI"):
        pytest.fail("mosquitto is not installed: apt install mosquitto")
    pytest.skip("mosquitto is not installed")


def free_port() -> int:
    """Return a port of the loopback that nobody uses now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
    return port


def wait_until(holds: Callable[[], bool], within_s: float = 15.0) -> None:
    """Wait until something holds, looking again and again; fail when it does not. [s]"""
    until_s = time.monotonic() + within_s
    while not holds():
        if time.monotonic() > until_s:
            pytest.fail(f"did not come about within {within_s:g} s")
        time.sleep(0.01)


@dataclass
class Mosquitto:
    """One broker, its port and its folder; ``text`` replaces its whole configuration."""

    folder: Path
    port: int = field(default_factory=free_port)
    extra: str = "allow_anonymous true\n"
    text: str = ""

    def __post_init__(self) -> None:
        self._program = program()
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> "Mosquitto":
        """Start it, and wait until it takes connections."""
        text = self.text or _BASE.format(port=self.port, folder=self.folder) + self.extra
        file = self.folder / "mosquitto.conf"
        file.write_text(f"user {os.environ.get('USER', 'root')}\n" + text, encoding="utf-8")
        with (self.folder / "log").open("ab") as log:
            self._process = subprocess.Popen(
                [self._program, "-c", str(file)], stdout=log, stderr=log
            )
        wait_until(self._answers)
        return self

    def _answers(self) -> bool:
        if self._process is None or self._process.poll() is not None:
            pytest.fail(f"mosquitto ended: {(self.folder / 'log').read_text(errors='replace')}")
        with socket.socket() as probe:
            return probe.connect_ex(("127.0.0.1", self.port)) == 0

    def stop(self) -> None:
        """End it as the service manager does: it writes its state first."""
        self._end(signal.SIGTERM)

    def kill(self) -> None:
        """End it as a power cut does."""
        self._end(signal.SIGKILL)

    def _end(self, how: signal.Signals) -> None:
        if self._process is not None:
            self._process.send_signal(how)
            self._process.wait(10)
            self._process = None


def publish(
    port: int, messages: Sequence[tuple[str, bytes]], *, qos: int = 1, retain: bool = False,
    user: str | None = None, password: str | None = None,
    before_leaving: Callable[[], object] = lambda: None,
) -> None:  # fmt: skip
    """Publish from a client of its own and wait until the broker has taken all of it."""
    client = Client(CallbackAPIVersion.VERSION2)
    client.max_queued_messages_set(0)
    client.max_inflight_messages_set(200)
    if user is not None:
        client.username_pw_set(user, password)
    client.connect("127.0.0.1", port)
    client.loop_start()
    sent = [client.publish(topic, payload, qos, retain) for topic, payload in messages]
    for one in sent:
        one.wait_for_publish(30)
    before_leaving()
    client.disconnect()
    client.loop_stop()
