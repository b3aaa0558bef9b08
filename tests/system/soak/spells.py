"""Coolers that get too warm, one spell after another, each until it is told."""

import contextlib
import random
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from monitor.errors import StoreError
from monitor.model import Alarm, AlarmKind
from monitor.store import Ledger
from tests.system.soak.farm import Voice

PATIENCE_S: Final = 300.0  # on a busy machine a start alone may take most of a minute


@dataclass
class Spells:
    """Warms a cooler until its alarm stands in the ledger, then cools it until that is over."""

    path: Path
    voices: Sequence[Voice]
    dice: random.Random
    raised: dict[str, int] = field(default_factory=dict)
    missed: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._ending = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def start(self) -> "Spells":
        """Begin."""
        self._thread.start()
        return self

    def stop(self) -> None:
        """Let the spell that is on go to its end, and begin no other."""
        self._ending.set()
        self._thread.join(3 * PATIENCE_S)

    def _run(self) -> None:
        while not self._ending.is_set():
            self._spell(self.dice.choice(self.voices))
            self._ending.wait(self.dice.uniform(1.0, 4.0))

    def _spell(self, voice: Voice) -> None:
        voice.warm = True
        if not self._until(lambda: self._stands(voice.place)):
            self.missed.append(f"{voice.place} was not told within {PATIENCE_S:g} s")
        voice.warm = False
        self.raised[voice.place] = self.raised.get(voice.place, 0) + 1
        if not self._until(lambda: not self._stands(voice.place)):
            self.missed.append(f"{voice.place} did not return within {PATIENCE_S:g} s")

    def _until(self, holds: Callable[[], bool]) -> bool:
        until_s = time.monotonic() + PATIENCE_S
        while time.monotonic() < until_s:
            with contextlib.suppress(StoreError):
                if holds():
                    return True
            time.sleep(0.3)
        return False

    def _stands(self, place: str) -> bool:
        return any(
            each.active and each.key.kind is AlarmKind.TOO_WARM and each.key.subject == place
            for each in alarms_in(self.path)
        )


def alarms_in(path: Path) -> list[Alarm]:
    """Return all alarms of a ledger."""
    ledger = Ledger.open(path)
    try:
        return ledger.alarms(limit=100_000)
    finally:
        ledger.close()
