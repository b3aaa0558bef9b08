"""A sensor whose power is cut: nobody says so, and it is noticed all the same."""

from collections.abc import Callable

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from monitor.model import Alarm, AlarmKind
from tests.system.brokers import Mosquitto, wait_until
from tests.system.daemons import Watched

pytestmark = pytest.mark.system

TOPIC = "farm/cooler/door-side"


def _alarms(farm: Watched) -> list[Alarm]:
    with farm.ledger() as ledger:
        return ledger.alarms()


def test_a_sensor_that_leaves_without_a_will_is_silent_by_its_own_interval(
    farms: Callable[..., Watched], mosquitto: Mosquitto
) -> None:
    """It speaks every second; cut off, it counts as silent after three, by no word of a broker."""
    farm = farms(mosquitto.port)
    file = farm.folder / "farm.toml"
    text = file.read_text(encoding="utf-8")
    file.write_text(
        text.replace('interval = "60 s"', 'interval = "1 s"\nsilent_after = "3 s"', 1),
        encoding="utf-8",
    )
    farm.start()
    probe = Client(CallbackAPIVersion.VERSION2, "door-side", clean_session=False)
    probe.connect("127.0.0.1", mosquitto.port)
    probe.loop_start()
    probe.publish(TOPIC, b'{"temperature": 3.1, "humidity": 92}', 1).wait_for_publish(10)
    wait_until(lambda: _heard(farm) is not None)
    heard_ms = _heard(farm)
    assert heard_ms is not None
    probe.loop_stop()
    socket = probe.socket()
    assert socket is not None
    socket.close()
    wait_until(lambda: len(_alarms(farm)) == 1)
    (alarm,) = _alarms(farm)
    assert (alarm.key.kind, alarm.key.subject) == (AlarmKind.SENSOR_SILENT, "cooler-door-side")
    assert 3_000 <= alarm.raised_ms - heard_ms <= 5_000


def _heard(farm: Watched) -> int | None:
    """Return when the sensor was last heard. [ms]"""
    with farm.readings() as reader:
        return reader.heard().get("cooler-door-side")
