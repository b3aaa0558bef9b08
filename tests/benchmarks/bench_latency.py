"""From publishing to a decided alarm, beside a bare subscriber on the same messages.

Run as ``python -m tests.benchmarks.bench_latency [--sensors N] [--rate N]``. A hundred
places of one sensor each tolerate a second of harm. Messages come at an even rate, each
with the time it was published at; one place after another turns too warm, later too cold.
An alarm is decided by the sample that outlasts the tolerated second, and the ledger says
which sample that was (the time the alarm was raised), so the delay does not count. Measured
is from that sample's publication until another process reads the alarm in the ledger. The
daemon is the real one with a real mosquitto and a phone service that takes its notices. The
reference is paho-mqtt's client doing nothing: from publication to its callback.
"""

import argparse
import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import numpy as np
from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion

from monitor.store import Ledger
from tests.benchmarks import made_farm, running
from tests.benchmarks.table import Row, machine, printed
from tests.system.brokers import Mosquitto
from tests.system.sinks import http_sink

SENSORS: Final = 100
RATE: Final = 200.0
REACH_S: Final = 0.5
_FINE_C: Final = 5.0
_WARM_C: Final = 15.0
_COLD_C: Final = -5.0
_WAIT_S: Final = 15.0


@dataclass(frozen=True, slots=True)
class Story:
    """One sensor after another turns warm, then all one after another cold. [s]"""

    sensors: int
    apart_s: float
    lead_s: float = 5.0

    def value_c(self, sensor: int, at_s: float) -> float:
        """Return what a sensor reads at a time after the start. [°C]"""
        warm_s = self.lead_s + sensor * self.apart_s
        cold_s = warm_s + self.sensors * self.apart_s
        if at_s < warm_s:
            return _FINE_C
        return _WARM_C if at_s < cold_s else _COLD_C

    @property
    def lasts_s(self) -> float:
        """Return when the last one has been cold for some time."""
        return 2 * (self.lead_s + self.sensors * self.apart_s)


def publish(port: int, story: Story, rate: float) -> int:
    """Publish at an even rate until the story is over; return how many messages."""
    client = Client(CallbackAPIVersion.VERSION2)
    client.connect("127.0.0.1", port)
    client.loop_start()
    began_s, count = time.perf_counter(), 0
    while (at_s := count / rate) < story.lasts_s:
        time.sleep(max(began_s + at_s - time.perf_counter(), 0.0))
        sensor, now_ms = count % story.sensors, time.time_ns() // 1_000_000
        payload = json.dumps({"t": story.value_c(sensor, at_s), "h": 60.0, "at": now_ms})
        client.publish(f"farm/s{sensor}", payload, 1)
        count += 1
    client.disconnect()
    client.loop_stop()
    return count


def bare(port: int, file: Path) -> None:
    """Subscribe, and note how long each message took; until the farm says it is over."""
    taken_ms: list[float] = []
    client = Client(CallbackAPIVersion.VERSION2, "bare")

    def on_message(client: Client, _data: object, message: MQTTMessage) -> None:
        if message.topic == "over":
            client.disconnect()
            return
        taken_ms.append(time.time_ns() / 1e6 - json.loads(message.payload)["at"])

    client.on_message = on_message
    client.on_subscribe = lambda *_: print("ready", flush=True)
    client.connect("127.0.0.1", port)
    client.subscribe([("farm/#", 1), ("over", 1)])
    client.loop_forever()
    file.write_text(json.dumps(taken_ms), encoding="utf-8")


@dataclass
class Ears:
    """Looks at the ledger as another process does, and notes when each alarm stood there."""

    ledger: Ledger
    version: int = -1
    seen_ms: dict[int, float] = field(default_factory=dict)
    taken_ms: list[float] = field(default_factory=list)

    def look(self) -> None:
        """Look whether something was written, and note what is new."""
        version = self.ledger.data_version()
        if version == self.version:
            return
        self.version = version
        alarms = self.ledger.alarms(limit=500)
        now_ms = time.time_ns() / 1e6
        for alarm in alarms:
            if alarm.sensor and alarm.quantity and alarm.id not in self.seen_ms:
                self.seen_ms[alarm.id] = now_ms
                self.taken_ms.append(now_ms - alarm.raised_ms)


def _told(ledger: Ledger, story: Story, publisher: "subprocess.Popen[str]") -> list[float]:
    """Return how long each alarm took to be decided. [ms]"""
    ears, end_s = Ears(ledger), time.monotonic() + story.lasts_s + _WAIT_S
    while len(ears.taken_ms) < 2 * story.sensors and time.monotonic() < end_s:
        ears.look()
        time.sleep(0.01)
    publisher.wait(60)
    return ears.taken_ms


@contextmanager
def subscriber(port: int, folder: Path) -> Iterator["subprocess.Popen[str]"]:
    """Run a bare subscriber that listens by now, and end it afterwards."""
    with _be("bare", port, folder, Story(1, 1.0), RATE) as process:
        try:
            if process.stdout is None or process.stdout.readline() != "ready\n":
                raise RuntimeError("the bare subscriber did not come up")
            yield process
        finally:
            process.terminate()


def measured(sensors: int, rate: float, apart_s: float, lead_s: float = 5.0) -> Row:
    """Return the row: 99 % of the alarms, and of the messages of a bare subscriber."""
    story = Story(sensors, apart_s, lead_s)
    with tempfile.TemporaryDirectory(prefix="bench-latency-") as name, http_sink() as (told, sink):
        folder = Path(name)
        broker = Mosquitto(folder).start()
        try:
            plan = made_farm.Plan(
                sensors, broker.port, touchy=True, address=sink.get_secret_value(), interval="10 s"
            )
            farm = made_farm.write(folder / "farm", plan)
            with subscriber(broker.port, folder) as other:
                with running.daemon(farm.directory):
                    ledger = Ledger.open(farm.data_dir / "ledger.db")
                    with _be("publisher", broker.port, folder, story, rate) as publisher:
                        ours = _told(ledger, story, publisher)
                    ledger.close()
                _say_over(broker.port)
                other.wait(30)
            theirs = json.loads((folder / "bare.json").read_text(encoding="utf-8"))
        finally:
            broker.stop()
    return _row(ours, theirs, 2 * sensors, rate, len(told))


def _be(kind: str, port: int, folder: Path, story: Story, rate: float) -> "subprocess.Popen[str]":
    words = [
        sys.executable, "-m", "tests.benchmarks.bench_latency", "--be", kind,
        "--port", str(port), "--file", str(folder / "bare.json"),
        "--sensors", str(story.sensors), "--apart", str(story.apart_s), "--rate", str(rate),
        "--lead", str(story.lead_s),
    ]  # fmt: skip
    return subprocess.Popen(words, stdout=subprocess.PIPE, text=True)


def _say_over(port: int) -> None:
    client = Client(CallbackAPIVersion.VERSION2)
    client.connect("127.0.0.1", port)
    client.loop_start()
    client.publish("over", b"", 1).wait_for_publish(10)
    client.disconnect()
    client.loop_stop()


def _row(ours: Sequence[float], theirs: Sequence[float], due: int, rate: float, sent: int) -> Row:
    within = sum(each <= REACH_S * 1000 for each in ours) / due
    return Row(
        f"publish to alarm decided, {rate:g} messages/s",
        f"99 % within {REACH_S:g} s",
        f"{100 * within:.1f} %, {len(ours)} of {due} alarms; {_said(ours)}; {sent} notices",
        f"bare subscriber: {_said(theirs)}",
        within >= 0.99,
    )


def _said(taken_ms: Sequence[float]) -> str:
    if not taken_ms:
        return "none came"
    middle, most = np.percentile(taken_ms, (50, 99))
    return f"median {middle:.0f} ms, 99 % {most:.0f} ms"


def main() -> int:
    """Run the benchmark, or one of its parts in a process of its own."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sensors", type=int, default=SENSORS)
    parser.add_argument("--rate", type=float, default=RATE)
    parser.add_argument("--apart", type=float, default=0.1, help="between two alarms [s]")
    parser.add_argument("--lead", type=float, default=5.0, help="before the first, and after [s]")
    parser.add_argument("--be", choices=["publisher", "bare"], help=argparse.SUPPRESS)
    parser.add_argument("--port", type=int, help=argparse.SUPPRESS)
    parser.add_argument("--file", type=Path, help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.be == "publisher":
        publish(args.port, Story(args.sensors, args.apart, args.lead), args.rate)
        return 0
    if args.be == "bare":
        bare(args.port, args.file)
        return 0
    row = measured(args.sensors, args.rate, args.apart, args.lead)
    print(machine())
    print(printed([row]))
    return int(row.reached is False)


if __name__ == "__main__":
    sys.exit(main())
