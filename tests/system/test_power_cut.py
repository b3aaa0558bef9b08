"""The machine's power is cut: only the second watcher, elsewhere, can tell anybody."""

import json
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from urllib.error import HTTPError
from urllib.request import Request, urlopen

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion
from pydantic import SecretStr

from monitor.store import Ledger
from tests.system.brokers import Mosquitto, free_port, publish, wait_until
from tests.system.daemons import ROOT, Watched, cormwatch

pytestmark = pytest.mark.system

Sink = tuple[list[dict[str, Any]], SecretStr]
Farms = Callable[..., Watched]


class Second:
    """A second watcher in a process of its own."""

    def __init__(self, folder: Path, sink: SecretStr) -> None:
        self.port = free_port()
        done = cormwatch(
            "init", str(folder), "--second", f"127.0.0.1:{self.port}",
            "--name", "Brindlewick Flowers", "--yes",
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        self.folder, self.told = folder, done.stdout
        self.secret = (folder / "secrets" / "heartbeat").read_text(encoding="utf-8").strip()
        people = folder / "people.toml"
        text = people.read_text(encoding="utf-8")
        people.write_text(
            text.replace("addresses = []", f'addresses = ["{sink.get_secret_value()}"]', 1), "utf-8"
        )
        file = folder / "farm.toml"
        text = file.read_text(encoding="utf-8")
        quick = text.replace('"1 min"', '"1 s"').replace('"10 min"', '"4 s"')
        file.write_text(quick, encoding="utf-8")
        self._process: subprocess.Popen[str] | None = None

    def start(self) -> "Second":
        """Start it, and wait until it listens."""
        self._process = subprocess.Popen(
            [sys.executable, "-m", "monitor", "run", "--second", "--farm", str(self.folder)],
            cwd=ROOT, stdout=subprocess.PIPE, text=True,
        )  # fmt: skip
        line = self._process.stdout.readline() if self._process.stdout else ""
        assert "Waiting for the heartbeats of Brindlewick Flowers" in line
        return self

    def kill(self) -> None:
        """End it as the power does."""
        if self._process is not None:
            self._process.kill()
            self._process.wait(10)
            if self._process.stdout is not None:
                self._process.stdout.close()
            self._process = None

    def look(self) -> dict[str, Any]:
        """Return what it says of itself."""
        address = f"http://127.0.0.1:{self.port}/health/live"
        with urlopen(address, timeout=5) as answer:
            found: dict[str, Any] = json.loads(answer.read())
        return found

    def last(self) -> str:
        """Return what the last heartbeat said."""
        ledger = Ledger.open(self.folder / "data" / "ledger.db")
        found = ledger.get("beats") or {}
        ledger.close()
        return str(found.get("last", ""))

    def kept_sent(self) -> bool:
        """Return whether every notice is recorded as sent: killed before, it sends it again."""
        ledger = Ledger.open(self.folder / "data" / "ledger.db")
        notices = ledger.notices()
        ledger.close()
        return all(each.sent_ms is not None for each in notices)

    def beat(self, body: object, secret: str | None = None) -> int:
        """Send a heartbeat by hand and return the answer's number."""
        headers = {"Authorization": f"Bearer {self.secret if secret is None else secret}"}
        address, data = f"http://127.0.0.1:{self.port}/beat", json.dumps(body).encode()
        request = Request(address, data, headers)
        try:
            with urlopen(request, timeout=5) as answer:  # noqa: S310 - likewise
                return int(answer.status)
        except HTTPError as refusal:
            refusal.close()
            return refusal.code


@pytest.fixture
def second(tmp_path: Path, sink: Sink) -> Iterator[Second]:
    """Yield a second watcher that runs."""
    watcher = Second(tmp_path / "elsewhere", sink[1]).start()
    yield watcher
    watcher.kill()


def _titles(sink: Sink) -> list[str]:
    return [str(each["title"]) for each in sink[0]]


def _watched(farm: Watched, second: Second) -> Watched:
    file = farm.folder / "farm.toml"
    text = file.read_text(encoding="utf-8")
    lines = (
        f'[watcher]\nheartbeat_url = "http://127.0.0.1:{second.port}/beat"\n'
        f'secret = "env:BEAT"\nevery = "1 s"\n'
    )
    file.write_text(text.replace("[watcher]\n", lines, 1), encoding="utf-8")
    farm.environ["BEAT"] = second.secret
    return farm


def test_a_power_cut_is_told_by_the_second_watcher_and_cleared(
    farms: Farms, mosquitto: Mosquitto, sink: Sink, second: Second
) -> None:
    """Daemon and broker die together; the message says what was last known; then it clears."""
    farm = _watched(farms(mosquitto.port), second).start()
    publish(mosquitto.port, [("farm/cooler/door-side", b'{"temperature": 3.3, "humidity": 92}')])
    wait_until(lambda: "Walk-in cooler 37.9 °F" in second.last(), 15)
    wait_until(lambda: "power cut" not in str(farm.get("/health/ready")["troubles"]), 15)
    before = len(sink[0])  # a busy machine may have been taken for dark once
    farm.kill()
    mosquitto.kill()
    wait_until(lambda: len(sink[0]) > before and _titles(sink)[-1].endswith("is not heard"), 30)
    assert sink[0][-1]["title"] == "Brindlewick Flowers: its monitor is not heard"
    text = str(sink[0][-1]["message"])
    assert "Walk-in cooler 37.9 °F" in text
    assert "keep the cooler's door shut" in text
    mosquitto.start()
    farm.start()
    wait_until(lambda: _titles(sink)[-1] == "Brindlewick Flowers: its monitor is heard again", 30)


def test_the_broker_tells_by_its_last_will_that_the_monitor_is_gone(
    farms: Farms, mosquitto: Mosquitto
) -> None:
    """The heartbeat's topic says online, then offline; to us it is no unclaimed topic."""
    heard: list[dict[str, Any]] = []
    client = Client(CallbackAPIVersion.VERSION2)
    client.on_message = lambda _client, _data, packet: heard.append(json.loads(packet.payload))
    client.connect("127.0.0.1", mosquitto.port)
    client.subscribe("cormwatch/heartbeat", 1)
    client.loop_start()
    farm = farms(mosquitto.port).start()
    wait_until(lambda: any("farm" in each for each in heard), 15)
    assert heard[-1]["state"] == "online"
    with farm.readings() as reader:
        assert reader.unclaimed() == []
    farm.kill()
    wait_until(lambda: heard[-1] == {"state": "offline"}, 15)
    client.disconnect()
    client.loop_stop()


def test_a_restart_in_the_dark_waits_once_more_and_tells_once(sink: Sink, second: Second) -> None:
    """Killed while all is dark and started again, it waits the grace from its start, tells once."""
    second.beat({"farm": "Brindlewick Flowers", "places": ["Walk-in cooler 37.9 °F"]})
    second.kill()
    second.start()
    wait_until(lambda: len(sink[0]) == 1, 15)
    wait_until(second.kept_sent)
    second.kill()
    second.start()
    assert second.look()["dark"] is True
    assert second.beat({"farm": "Brindlewick Flowers"}) == 204
    wait_until(lambda: len(sink[0]) == 2, 15)
    assert [each.rpartition(" is ")[2] for each in _titles(sink)] == ["not heard", "heard again"]


def test_what_is_no_heartbeat_of_the_farm_is_refused_and_counted(second: Second) -> None:
    """A wrong secret, another farm's heartbeat and rubbish are no word from the farm."""
    good = {"farm": "Brindlewick Flowers"}
    assert second.beat(good, "guess") == 401
    assert second.beat({"farm": "Otter Bend Flowers"}) == 409
    assert second.beat(["no", "object"]) == 400
    assert second.beat({"farm": "Brindlewick Flowers", "places": ["x" * 70_000]}) == 400
    looked = second.look()
    assert looked["heard"] is None
    assert looked["refused"] == {"wrong_secret": 1, "other_farm": 1, "unreadable": 2}
    assert second.beat(good) == 204
    assert second.look()["heard"] is not None


def test_one_that_never_heard_the_farm_says_so(sink: Sink, second: Second) -> None:
    """Set up and never reached by the farm: told after the grace, in those words."""
    assert second.look()["heard"] is None
    wait_until(lambda: len(sink[0]) == 1, 15)
    assert "Nothing has ever come from it since" in str(sink[0][0]["message"])
