"""What befalls the monitor: each trouble begins, lasts a while and ends."""

import contextlib
import random
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from monitor.errors import StoreError
from monitor.model import AlarmKind
from tests.system.brokers import Mosquitto, wait_until
from tests.system.daemons import Watched
from tests.system.disks import fill
from tests.system.relay import Relay
from tests.system.soak.publishing import Publisher
from tests.system.soak.spells import alarms_in

SAVED_S: Final = 1.0
"""How often the broker saves its state: what its own crash can cost. [s]"""
_STEPS_MS: Final = (900_000, -900_000, 86_400_000, -7_200_000)


@dataclass
class Troubles:
    """The parts that trouble befalls, and what is noted of it for the reckoning."""

    farm: Watched
    broker: Mosquitto
    relay: Relay
    publisher: Publisher
    dice: random.Random
    befallen: dict[str, int] = field(default_factory=dict)
    broker_killed_s: list[float] = field(default_factory=list)
    full_s: list[tuple[float, float]] = field(default_factory=list)
    slowest_stop_s: float = 0.0
    full_told: int = 0
    diary: list[str] = field(default_factory=list)

    @property
    def data(self) -> Path:
        """Return the folder of the farm's files."""
        return self.farm.folder / "data"

    def kinds(self) -> dict[str, Callable[[], None]]:
        """Return every trouble by its name."""
        return {
            "killed": self.killed, "stopped": self.stopped, "broker restarted": self.restarted,
            "broker killed": self.broker_killed, "cut": self.cut, "silent wire": self.silent,
            "disk full": self.full, "killed on a full disk": self.full_killed,
            "clock": self.clock, "dark": self.dark, "booted in another time": self.booted,
        }  # fmt: skip

    def befall(self, name: str) -> None:
        """Let one trouble come and go."""
        self.befallen[name] = self.befallen.get(name, 0) + 1
        begun_s = time.time()
        self.kinds()[name]()
        self.diary.append(f"{begun_s:.1f} {time.time():.1f} {name}")

    def _wait(self, least_s: float, most_s: float) -> None:
        time.sleep(self.dice.uniform(least_s, most_s))

    def killed(self) -> None:
        """Kill the daemon, as the power does."""
        self.farm.kill()
        self._wait(0.0, 1.5)
        self.farm.start(ready=False)

    def stopped(self) -> None:
        """Stop the daemon as the service manager does, and start it."""
        self.slowest_stop_s = max(self.slowest_stop_s, self.farm.stop())
        self._wait(0.0, 1.5)
        self.farm.start(ready=False)

    def restarted(self) -> None:
        """Stop the broker and start it."""
        self.broker.stop()
        self._wait(0.0, 1.0)
        self.broker.start()

    def broker_killed(self) -> None:
        """Kill the broker while the daemon listens and has caught up."""
        self.caught_up()
        self._wait(0.5, 2.0)
        self.broker_killed_s.append(time.monotonic())
        self.broker.kill()
        self._wait(0.0, 1.0)
        self.broker.start()

    def cut(self) -> None:
        """Cut the network between daemon and broker."""
        self.relay.cut()
        self._wait(0.5, 4.0)
        self.relay.heal()

    def silent(self) -> None:
        """Let nothing pass between daemon and broker, and tell nobody."""
        self.relay.stall()
        self._wait(1.0, 6.0)
        self.relay.heal()

    def clock(self) -> None:
        """Set the computer's clock wrong, and right again."""
        self.set_clock(self.dice.choice(_STEPS_MS))
        self._wait(2.0, 5.0)
        self.set_clock(0)
        self._wait(1.5, 2.0)

    def booted(self) -> None:
        """Kill the daemon; start it by a wrong clock that is set right later."""
        self.farm.kill()
        self.set_clock(self.dice.choice(_STEPS_MS))
        self.farm.start(ready=False)
        self._wait(1.0, 3.0)
        self.set_clock(0)
        self._wait(1.5, 2.0)

    def dark(self) -> None:
        """Kill the daemon and cut the network, and let both come back."""
        self.relay.cut()
        self.farm.kill()
        self._wait(0.5, 2.0)
        self.farm.start(ready=False)
        self._wait(0.5, 1.0)
        self.relay.heal()

    def full(self) -> None:
        """Fill the disk: shortly, or until it is told that nothing can be written."""
        begun_s = time.monotonic()
        filler = fill(self.data)
        if self.dice.choice((True, False)):
            self._wait(1.0, 4.0)
        else:
            self.full_told += 1
            wait_until(self.told_full, 60)
        filler.unlink()
        wait_until(self.farm.ready, 60)
        self.full_s.append((begun_s, time.monotonic()))

    def full_killed(self) -> None:
        """Fill the disk until it is told; kill the daemon, free the disk, and start it."""
        begun_s = time.monotonic()
        filler = fill(self.data)
        self.full_told += 1
        wait_until(self.told_full, 60)
        self._wait(0.0, 2.0)
        self.farm.kill()
        filler.unlink()
        self.farm.start()
        self.full_s.append((begun_s, time.monotonic()))

    def set_clock(self, off_ms: int) -> None:
        """Set the farm's clock off by so much. [ms]"""
        file, fresh = (self.farm.folder.with_suffix(each) for each in (".clock-off", ".fresh"))
        fresh.write_text(str(off_ms), encoding="utf-8")
        fresh.rename(file)

    def caught_up(self) -> None:
        """Wait until the daemon has taken all that the broker has for it."""
        wait_until(self.farm.ready, 60)
        self.publisher.paused.set()
        seen = -1
        while seen != (seen := self.stored()):
            time.sleep(1.0)
        self.publisher.paused.clear()

    def stored(self) -> int:
        """Return how many readings are on the disk."""
        with self.farm.readings() as reader:
            return sum(len(reader.series(each, 0).at_ms) for each in reader.channels())

    def told_full(self) -> bool:
        """Return whether it stands that readings cannot be kept."""
        with contextlib.suppress(StoreError):
            return any(
                each.active and each.key.kind is AlarmKind.STORE_FAILED
                for each in alarms_in(self.data / "ledger.db")
            )
        return False
