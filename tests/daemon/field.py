"""A farm of two sensors in a cooler, one bare, one JSON, from bytes to what is judged."""

import asyncio
from collections.abc import Iterable, Sequence
from pathlib import Path

from monitor.farm import ChannelSpec, Place, Sensor
from monitor.intake import Decoder, Screen, Stamper
from monitor.model import AlarmKind, Channel, Quantity
from monitor.mqtt.preparing import Preparing
from monitor.mqtt.redelivery import Window
from tests.daemon.made import HandClock, Post, farm
from tests.intake.made import message
from tests.watch.made import MINUTE_MS, START_MS

T, J = Channel("bare", Quantity.TEMPERATURE), Channel("json", Quantity.TEMPERATURE)
SENSORS = [
    Sensor(each.sensor, each.sensor, "cooler", f"farm/{each.sensor}", 60.0, 180.0, 180.0, (
        ChannelSpec(Quantity.TEMPERATURE, path=path, unit="C"),
    ))
    for each, path in ((T, None), (J, "t"))
]  # fmt: skip


class Field(Post):
    """A post whose readings come as bytes."""

    def __init__(
        self, folder: Path, clock: HandClock, sensors: Iterable[Sensor] = SENSORS,
        places: Sequence[Place] = (),
    ) -> None:  # fmt: skip
        more = {"places": places} if places else {}
        super().__init__(farm(folder, sensors=sensors, **more), clock)
        self._ready()

    def _ready(self) -> None:
        reader = self.store.reader()
        newest = reader.newest()
        reader.close()
        stamper = Stamper({each: known.at_ms for each, known in newest.items()})
        decoder = Decoder(self.farm.sensors.values(), Screen(newest.values()))
        self._preparing = Preparing(decoder, stamper, Window(), lambda _topic: False)

    def restart(self) -> None:
        """Begin as a daemon does that has just been started."""
        self.start()
        self._ready()

    def say(self, channel: Channel, payload: bytes, minute: float) -> None:
        """Let a sensor send bytes at a minute, take them in and judge them."""
        self.clock.now = START_MS + round(minute * MINUTE_MS)
        heard = message(payload, self.clock.now, f"farm/{channel.sensor}")
        pack = self._preparing.prepare([heard])
        self.store.commit(pack.commit())
        self.judge.readings(pack.readings)
        self.judge.tick(self.clock.now)

    def kinds(self) -> list[AlarmKind]:
        """Return the kinds of what holds now, the oldest first."""
        asyncio.run(self.judge.write())
        return [each.key.kind for each in reversed(self.ledger.alarms()) if each.active]
