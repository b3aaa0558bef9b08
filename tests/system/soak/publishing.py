"""Publishes what sensors say at QoS 1, and keeps what the broker has acknowledged."""

import threading
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import cycle
from typing import Final

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from monitor.model import Channel
from tests.system.soak.farm import Voice

_WINDOW: Final = 200


@dataclass(slots=True)
class Sent:
    """What one message said, and when the broker acknowledged it, if it did. [s, monotonic]"""

    said: Mapping[Channel, float]
    acked_s: float | None = None


@dataclass
class Publisher:
    """Sends message after message at a steady rate, on a new connection after each loss.

    What was not acknowledged when a connection ended is not sent again: nobody knows whether
    the broker had it.
    """

    port: int
    voices: Sequence[Voice]
    rate: float
    sent: list[Sent] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._ending, self.paused = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def start(self) -> "Publisher":
        """Begin."""
        self._thread.start()
        return self

    def stop(self) -> None:
        """Send no more, and wait for the last acknowledgements."""
        self._ending.set()
        self._thread.join(30)

    def _run(self) -> None:
        voices = cycle(self.voices)
        while not self._ending.is_set():
            try:
                self._connected(voices)
            except OSError:
                time.sleep(0.1)

    def _connected(self, voices: "cycle[Voice]") -> None:
        answered: dict[int, float] = {}
        mine: dict[int, Sent] = {}
        client = Client(CallbackAPIVersion.VERSION2, reconnect_on_failure=False)
        client.max_inflight_messages_set(_WINDOW)

        def note(_client: object, _data: object, mid: int, _code: object, _more: object) -> None:
            answered[mid] = time.monotonic()

        joined = threading.Event()
        client.on_connect = lambda *_: joined.set()
        client.on_publish = note
        client.connect("127.0.0.1", self.port)
        client.loop_start()
        try:
            joined.wait(5)
            self._publish(client, voices, mine, answered)
        finally:
            client.disconnect()
            client.loop_stop()
            for mid, message in mine.items():
                message.acked_s = answered.get(mid)

    def _publish(
        self, client: Client, voices: "cycle[Voice]", mine: dict[int, Sent],
        answered: dict[int, float],
    ) -> None:  # fmt: skip
        due_s = time.monotonic()
        while client.is_connected() and not self._ending.is_set():
            due_s = max(due_s + 1 / self.rate, time.monotonic() - 1.0)
            time.sleep(max(due_s - time.monotonic(), 0.0))
            if self.paused.is_set() or len(mine) - len(answered) >= _WINDOW:
                continue
            topic, payload, said = next(voices).say(time.time())
            message = Sent(said)
            self.sent.append(message)
            info = client.publish(topic, payload, 1)
            mine[info.mid] = message
        until_s = time.monotonic() + 5.0
        while client.is_connected() and len(answered) < len(mine) and time.monotonic() < until_s:
            time.sleep(0.01)
