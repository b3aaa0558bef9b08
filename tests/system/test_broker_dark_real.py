"""Twelve sensors of a farm gone dark by one cause: told once, and ended once.

The daemon runs by a clock of 20 times real speed (``DARK_RATE`` in the environment changes
it: 1 is real time); mosquitto, the sensors' clients and the phone's service are real.
"""

import json
import os
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion
from pydantic import SecretStr

from monitor.model import Alarm, AlarmKind, AlarmState
from tests.system.brokers import Mosquitto, wait_until
from tests.system.daemons import Watched

pytestmark = pytest.mark.system

Sink = tuple[list[dict[str, Any]], SecretStr]
RATE: Final = float(os.environ.get("DARK_RATE", "20"))
TEN_MINUTES_S: Final = 600.0 / RATE
EVERY_S: Final = 20.0 / RATE  # silent after a minute, told after 20 intervals: 400 s
NORMAL_C: Final = {
    "walk-in-cooler": 3.1, "sprouting-room": 9.0, "tunnel-1": 14.0, "dry-store": 14.0,
}  # fmt: skip
PLACES: Final = ["walk-in-cooler"] * 4 + ["sprouting-room"] * 3 + ["tunnel-1"] * 3 + [
    "dry-store"
] * 2  # fmt: skip
SENSOR: Final = """
[[sensor]]
id = "probe-{number}"
name = "Probe {number}"
place = "{place}"
topic = "farm/probe/{number}"
interval = "20 s"
silent_after = "60 s"
{gateway}
[[sensor.channel]]
quantity = "temperature"
path = "t"
unit = "C"
"""


@dataclass
class Probes:
    """Sensors that speak, each by a client of its own, until told to be still."""

    port: int
    still: set[int] = field(default_factory=set)

    def __post_init__(self) -> None:
        self._over = threading.Event()
        self._clients = [self._joined(number) for number in range(len(PLACES))]
        self._thread = threading.Thread(target=self._speak, daemon=True)
        self._thread.start()

    def _joined(self, number: int) -> Client:
        client = Client(CallbackAPIVersion.VERSION2, f"probe-{number}")
        client.reconnect_delay_set(1, 1)
        client.connect("127.0.0.1", self.port)
        client.loop_start()
        return client

    def _speak(self) -> None:
        turn = 0
        while not self._over.is_set():
            turn += 1
            for number, client in enumerate(self._clients):
                if client.is_connected() and number not in self.still:
                    value = NORMAL_C[PLACES[number]] + 0.1 * ((turn + number) % 3)
                    client.publish(f"farm/probe/{number}", json.dumps({"t": value}), 1)
            self._over.wait(EVERY_S)

    def end(self) -> None:
        """Let every client leave."""
        self._over.set()
        self._thread.join(5)
        for client in self._clients:
            client.disconnect()
            client.loop_stop()


@pytest.fixture
def probes(mosquitto: Mosquitto) -> Iterator[Probes]:
    """Yield twelve sensors that speak."""
    speaking = Probes(mosquitto.port)
    yield speaking
    speaking.end()


def _farm(farm: Watched, behind: Sequence[int] = (), rate: float = RATE) -> Watched:
    """Give a farm twelve sensors in four places, some behind a gateway, and a fast clock."""
    file = farm.folder / "farm.toml"
    text, mark, _ = file.read_text(encoding="utf-8").partition("# ---- Sensors")
    assert mark
    sensors = [
        SENSOR.format(
            number=number, place=place, gateway='gateway = "barn"' if number in behind else ""
        )
        for number, place in enumerate(PLACES)
    ]
    file.write_text(text + "".join(sensors), encoding="utf-8")
    farm.program = ("-m", "tests.system.fast_daemon", str(rate))
    return farm.start()


def _heard(farm: Watched) -> int:
    """Return how many sensors have been heard."""
    with farm.readings() as reader:
        return len({each.sensor for each in reader.newest()})


def _alarms(farm: Watched) -> list[Alarm]:
    with farm.ledger() as ledger:
        return ledger.alarms()


def _stays(holds: Callable[[], bool], for_s: float) -> None:
    """Look, for a while, that something goes on to hold. [s]"""
    until_s = time.monotonic() + for_s
    while time.monotonic() < until_s:
        assert holds()
        time.sleep(0.2)


@pytest.mark.usefixtures("probes")
def test_a_broker_dead_for_ten_minutes_is_one_alarm_one_notice_one_clearing(
    farms: Callable[..., Watched], mosquitto: Mosquitto, sink: Sink
) -> None:
    """Nothing of any sensor is raised or told, then or after; the notice names the places."""
    farm = _farm(farms(mosquitto.port, sink[1]))
    wait_until(lambda: _heard(farm) == len(PLACES), 20 + EVERY_S)
    mosquitto.kill()
    began_s = time.monotonic()
    wait_until(lambda: len(sink[0]) == 1, 200.0 / RATE + 10.0)
    (alarm,) = _alarms(farm)
    assert (alarm.key.kind, alarm.state) == (AlarmKind.BROKER_LOST, AlarmState.UNACKNOWLEDGED)
    assert "Walk-in cooler is dark since" in sink[0][0]["message"]
    assert "Keep the door shut" in sink[0][0]["message"]
    _stays(lambda: len(sink[0]) == 1, TEN_MINUTES_S - (time.monotonic() - began_s))
    mosquitto.start()
    wait_until(lambda: len(sink[0]) == 2, 40)
    _stays(lambda: len(sink[0]) == 2, 90.0 / RATE)  # longer than a sensor may be silent
    (alarm,) = _alarms(farm)
    assert alarm.state is AlarmState.RETURNED_UNACKNOWLEDGED
    with farm.ledger() as ledger:
        kinds = [each.kind.value for each in reversed(ledger.notices())]
    assert kinds == ["raised", "cleared"]


def test_a_gateway_gone_dark_is_one_alarm_one_notice_one_clearing(
    farms: Callable[..., Watched], mosquitto: Mosquitto, sink: Sink, probes: Probes
) -> None:
    """Seven of twelve sensors are still at once: one message names them, none tells of each."""
    behind = range(7)
    farm = _farm(farms(mosquitto.port, sink[1]), behind, 1.5 * RATE)
    wait_until(lambda: _heard(farm) == len(PLACES), 20 + EVERY_S)
    probes.still |= set(behind)
    wait_until(lambda: len(sink[0]) == 1, 600.0 / RATE + 10.0)
    assert "nothing comes through gateway barn" in sink[0][0]["title"]
    assert "Keep the door shut" in sink[0][0]["message"]
    probes.still.clear()
    wait_until(lambda: len(sink[0]) == 2, 60.0 / RATE + 10.0)
    _stays(lambda: len(sink[0]) == 2, 90.0 / RATE)
    told = [each for each in _alarms(farm) if each.state is not AlarmState.NORMAL]
    assert [each.key.kind for each in told] == [AlarmKind.SENSORS_DARK]
    with farm.ledger() as ledger:
        sent = [each for each in ledger.notices() if each.sent_ms is not None]
        silent = [each for each in ledger.alarms() if each.key.kind is AlarmKind.SENSOR_SILENT]
        assert {each.alarm for each in sent} == {told[0].id}
    assert {each.sensor for each in silent} == {f"probe-{number}" for number in behind}
    assert all(each.returned_ms is not None for each in silent)
