"""Hours of a cooler played in seconds, by the sensor's own times.

What is older than a sensor may be silent is history and alarms nobody: a spell that is to
be told has to last up to about now. Times may be five minutes ahead of their receipt.
"""

import json
import time
from collections.abc import Sequence
from typing import Final

from monitor.clock import SystemClock
from monitor.units import iso_utc
from tests.system.brokers import publish, wait_until
from tests.system.daemons import Watched

MINUTE_MS: Final = 60_000
COLD_C: Final = 3.0
WARM_C: Final = 8.0  # 46.4 °F: over the starter's harm limit of 42 °F, tolerated for 45 min
SPELL: Final = (COLD_C,) * 6 + (WARM_C,) * 54
BATCH = ("--crop", "ranunculus", "--cultivar", "Meadow Blush", "--count", "40", "--stage",
         "cut_stems", "--place", "walk-in-cooler", "--by", "robin")  # fmt: skip


def message(at_ms: int, air_c: float) -> tuple[str, bytes]:
    """Return what the starter's sensor by the cooler's door says of a time. [ms]"""
    body = {"temperature": air_c, "humidity": 92, "ts": at_ms / 1000}
    return "farm/cooler/door-side", json.dumps(body).encode()


class Player:
    """Plays the cooler's sensor from some minutes ago on, a minute from one to the next."""

    def __init__(self, watched: Watched, port: int, minutes: int) -> None:
        self._watched, self._port = watched, port
        self.at_ms = SystemClock().now_ms() - minutes * MINUTE_MS
        self.sent = 0
        self.signed_in: tuple[str | None, str | None] = (None, None)

    def send(self, values_c: Sequence[float]) -> float:
        """Send values; return when they left. [s]"""
        messages = []
        for value in values_c:
            self.at_ms += MINUTE_MS
            messages.append(message(self.at_ms, value))
        self.sent += len(messages)
        sent_s = time.monotonic()
        user, password = self.signed_in
        publish(self._port, messages, user=user, password=password)
        return sent_s

    def play(self, *values_c: float) -> float:
        """Send values and wait until they are judged; return when they left. [s]"""
        sent_s = self.send(values_c)
        wait_until(self._judged)
        return sent_s

    def _judged(self) -> bool:
        places = self._watched.get("/api/places")
        (cooler,) = [each for each in places if each["id"] == "walk-in-cooler"]
        newest = cooler["current"].get("temperature")
        return newest is not None and bool(newest["at"] == iso_utc(self.at_ms))
