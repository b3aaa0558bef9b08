"""``cormwatch sensor find`` and ``add`` with a real mosquitto and a running monitor."""

import json
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from monitor.cli import main
from monitor.farm import load
from tests.system.brokers import Mosquitto, free_port

pytestmark = pytest.mark.system
Said = pytest.CaptureFixture[str]
CELLAR = '{"air": {"t": 51.2, "h": 88}, "batt": 91}'


@pytest.fixture
def farm(tmp_path: Path, mosquitto: Mosquitto) -> Path:
    """Return a starter farm at the broker."""
    folder = tmp_path / "farm"
    assert main(["init", str(folder), "--yes", "--broker", f"127.0.0.1:{mosquitto.port}"]) == 0
    return folder


@contextmanager
def speaking(port: int, messages: dict[str, str], *, retain: bool = False) -> Iterator[None]:
    """Publish each message ten times a second."""
    client = Client(CallbackAPIVersion.VERSION2)
    client.connect("127.0.0.1", port)
    client.loop_start()
    stop = threading.Event()

    def speak() -> None:
        while not stop.wait(0.1):
            for topic, text in messages.items():
                client.publish(topic, text, 1, retain=retain)

    thread = threading.Thread(target=speak, daemon=True)
    thread.start()
    yield
    stop.set()
    thread.join()
    client.disconnect()
    client.loop_stop()


def test_what_speaks_is_found(farm: Path, mosquitto: Mosquitto, capsys: Said) -> None:
    """A strange topic is found with its likely quantities and units; a declared one is not."""
    capsys.readouterr()
    spoken = {"farm/cellar": CELLAR, "farm/cooler/back": "38.1", "barn/temp": "3.4"}
    with speaking(mosquitto.port, spoken):
        assert main(["sensor", "find", "--for", "1 s", "--json", "--farm", str(farm)]) == 0
    found = {each["topic"]: each for each in json.loads(capsys.readouterr().out)}
    assert set(found) == {"farm/cellar", "barn/temp"}
    assert found["farm/cellar"]["channels"] == [
        {"quantity": "temperature", "path": "air.t", "unit": "F"},
        {"quantity": "humidity", "path": "air.h", "unit": "%"},
        {"quantity": "battery", "path": "batt", "unit": "%"},
    ]
    assert found["barn/temp"]["channels"][0]["path"] is None
    assert found["barn/temp"]["sample"] == "3.4"
    assert found["barn/temp"]["count"] > 3


def test_an_old_word_is_not_a_sensor_that_speaks(
    farm: Path, mosquitto: Mosquitto, capsys: Said
) -> None:
    """What the broker retained may be years old: it is not found."""
    with speaking(mosquitto.port, {"farm/old/temp": "3.4"}, retain=True):
        pass
    assert main(["sensor", "find", "--for", "1 s", "--farm", str(farm)]) == 0
    assert "Nothing was heard" in capsys.readouterr().out


def test_no_broker_is_said(farm: Path, mosquitto: Mosquitto, capsys: Said) -> None:
    """A broker that is not there is named with what to look at."""
    file = farm / "farm.toml"
    gone = file.read_text(encoding="utf-8").replace(str(mosquitto.port), str(free_port()))
    file.write_text(gone, encoding="utf-8")
    assert main(["sensor", "find", "--for", "1 s", "--farm", str(farm)]) == 2
    assert "cannot be reached" in capsys.readouterr().err


def test_a_found_sensor_is_added_by_its_topic(farm: Path, capsys: Said) -> None:
    """With what it measures named, a topic becomes a sensor in the named place."""
    words = ["sensor", "add", "farm/cellar", "--place", "dry store", "--name", "Cellar shelf"]
    words += ["--every", "60 s", "--channel", "temperature:air.t:F", "--by", "Ida"]
    before = (farm / "farm.toml").read_text(encoding="utf-8")
    assert main([*words, "--farm", str(farm)]) == 0
    assert "Cellar shelf (cellar-shelf) belongs to Dry store now" in capsys.readouterr().out
    sensor = load(farm).sensors["cellar-shelf"]
    assert (sensor.topic, sensor.place, sensor.channels[0].path) == (
        "farm/cellar", "dry-store", "air.t",
    )  # fmt: skip
    (farm / "farm.toml").write_text(before, encoding="utf-8")
    assert main([*words, "--farm", str(farm)]) == 0
    assert "(cellar-shelf-2)" in capsys.readouterr().out  # an id is never used again
