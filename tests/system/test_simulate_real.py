"""The simulator publishes to a real mosquitto, in real time."""

import json
import queue
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion

from monitor.cli import main
from monitor.clock import ScaledClock
from monitor.farm import Broker
from simulator.farm import SimulatedFarm
from simulator.publishing import Publisher, pace
from tests.simulator.farms import START_MS, farm
from tests.system.brokers import Mosquitto

pytestmark = pytest.mark.system


@contextmanager
def _listening(port: int) -> Iterator["queue.Queue[tuple[str, bytes]]"]:
    """Yield what is heard on the broker."""
    heard: queue.Queue[tuple[str, bytes]] = queue.Queue()
    ready = threading.Event()
    client = Client(CallbackAPIVersion.VERSION2)

    def keep(_client: Client, _userdata: object, message: MQTTMessage) -> None:
        heard.put((message.topic, bytes(message.payload)))

    client.on_message = keep
    client.on_subscribe = lambda *_: ready.set()
    client.connect("127.0.0.1", port)
    client.subscribe("farm/#", 1)
    client.loop_start()
    assert ready.wait(5)
    yield heard
    client.disconnect()
    client.loop_stop()


@pytest.mark.parametrize("protocol", ["5", "3.1.1"])
def test_what_is_simulated_arrives_byte_for_byte(mosquitto: Mosquitto, protocol: str) -> None:
    """Ten minutes at a scaled clock arrive whole and unchanged, per topic in order."""
    broker = Broker(port=mosquitto.port, protocol=protocol)
    until_ms = START_MS + 600_000
    expected = list(SimulatedFarm(farm(), 1, START_MS).messages(until_ms))
    clock = ScaledClock(START_MS, 1_200.0)
    began_s = time.monotonic()
    with _listening(mosquitto.port) as heard:
        with Publisher(broker) as publisher:
            life = SimulatedFarm(farm(), 1, START_MS)
            pace(life.messages(until_ms), publisher, clock, threading.Event())
        got = [heard.get(timeout=5) for _ in expected]
    assert got == [(each.topic, each.payload) for each in expected]
    assert publisher.sent == len(expected)
    last_s = (expected[-1].at_ms - START_MS) / 1000.0 / 1_200.0
    assert time.monotonic() - began_s >= last_s


def test_a_tunnel_says_what_its_sensor_declares(mosquitto: Mosquitto) -> None:
    """A message of the tunnel carries its channels and its time under their paths."""
    with _listening(mosquitto.port) as heard:
        with Publisher(Broker(port=mosquitto.port)) as publisher:
            for each in SimulatedFarm(farm(), 1, START_MS).messages(START_MS + 90_000):
                publisher.publish(each)
        said = [heard.get(timeout=5) for _ in range(publisher.sent)]
    tunnel = [json.loads(payload) for topic, payload in said if topic == "farm/tunnel-air"]
    assert tunnel
    assert set(tunnel[0]) == {"temperature", "humidity", "soil", "ts"}


def test_a_restarted_broker_gets_what_waited_for_it(mosquitto: Mosquitto) -> None:
    """What is published while the broker is away is sent once it is back."""
    first, second, *_ = SimulatedFarm(farm(), 1, START_MS).messages(START_MS + 120_000)
    with Publisher(Broker(port=mosquitto.port)) as publisher:
        publisher.publish(first)
        mosquitto.kill()
        publisher.publish(second)
        assert not publisher.settle(0.0)
        mosquitto.start()
        assert publisher.settle(20.0)
        assert publisher.taken == publisher.sent == 2


def test_ctrl_c_ends_the_command_cleanly(mosquitto: Mosquitto, tmp_path: Path) -> None:
    """An interrupt ends with how much was published, code 0 and no traceback."""
    folder = str(tmp_path / "farm")
    assert main(["init", folder, "--yes", "--broker", f"127.0.0.1:{mosquitto.port}"]) == 0
    words = ["simulate", "--farm", folder, "--scenario", "cooler-failure", "--after", "1 min"]
    code = f"import sys; from monitor.cli import main; sys.exit(main({words!r}))"
    process = subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    assert "compressor dead in walk-in-cooler" in process.stdout.readline()
    process.send_signal(signal.SIGINT)
    said, failed = process.communicate(timeout=15)
    assert process.returncode == 0
    assert failed == ""
    assert "Published" in said
