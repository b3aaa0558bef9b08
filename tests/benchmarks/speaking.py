"""Sensors of a made-up farm that speak as real ones do."""

import json
import threading
import time
from typing import Final, Self

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

EVERY_S: Final = 30.0
"""How often each sensor speaks. [s]"""


class Speaking:
    """So many sensors, each on two channels every thirty seconds, spread evenly."""

    def __init__(self, port: int, sensors: int) -> None:
        self._stop = threading.Event()
        self._sensors = sensors
        self._client = Client(CallbackAPIVersion.VERSION2)
        self._client.connect("127.0.0.1", port)
        self._thread = threading.Thread(target=self._speak, daemon=True)

    def _speak(self) -> None:
        sent, begun_s = 0, time.monotonic()
        while not self._stop.wait(max(begun_s + sent * EVERY_S / self._sensors
                                      - time.monotonic(), 0.0)):  # fmt: skip
            at_ms = time.time_ns() // 1_000_000
            payload = json.dumps({"t": 3.2 + at_ms % 50 / 100, "h": 64.0, "at": at_ms})
            self._client.publish(f"farm/s{sent % self._sensors}", payload, 1)
            sent += 1

    def __enter__(self) -> Self:
        self._client.loop_start()
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        self._thread.join()
        self._client.disconnect()
        self._client.loop_stop()
