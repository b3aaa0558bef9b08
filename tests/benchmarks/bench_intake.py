"""Intake beside a bare subscriber: QoS 1, acknowledged after commit, real mosquitto.

Run: python -m tests.benchmarks.bench_intake [--messages N] [--rounds N] [--protocol 5|3.1.1]

A hundred sensors of two channels publish JSON. A process of its own writes prepared
packets into the broker as fast as that takes them, while the subscriber listens, past
its fence. The reference is paho-mqtt's client with its own loop, acknowledging each
message and doing nothing else, in the same run on the same broker; the two alternate,
and the median of the rounds counts. Measured is from the first message heard to the last
one acknowledged.
"""

import argparse
import asyncio
import json
import os
import platform
import socket
import statistics
import struct
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from monitor.clock import SystemClock
from monitor.intake import Decoder, Stamper
from monitor.model import Message, Quantity
from monitor.mqtt.session import Session
from monitor.mqtt.settings import Protocol, SessionSettings
from monitor.mqtt.worker import IntakeWorker, Taken, Told
from monitor.store import ReadingStore
from tests.benchmarks.table import Row
from tests.system.brokers import Mosquitto
from tests.system.intake_process import Channel, Sensor

SENSORS = 100
REACH = 0.7
CHANNELS = (Channel(Quantity.TEMPERATURE, "t", "C"), Channel(Quantity.HUMIDITY, "h", "%"))


@dataclass
class Stopwatch:
    """From the first message to the last."""

    first_s: float = 0.0

    def first(self) -> None:
        """Note the first message."""
        if not self.first_s:
            self.first_s = time.perf_counter()

    def tell(self, count: int) -> None:
        """Print what came of it, for the parent process."""
        seconds = time.perf_counter() - self.first_s
        cpu = time.process_time()
        print(json.dumps({"messages": count, "seconds": seconds, "cpu_s": cpu}), flush=True)


# -- the publisher ---------------------------------------------------------------------


def _packet(number: int) -> bytes:
    topic = b"farm/s%d" % (number % SENSORS)
    t, h = 2.0 + number // SENSORS % 200 / 100, 85.0 + number // SENSORS % 130 / 10
    body = struct.pack("!H", len(topic)) + topic + struct.pack("!H", number % 60_000 + 1)
    body += b'{"t":%.2f,"h":%.1f}' % (t, h)
    if len(body) > 127:  # one byte holds the remaining length
        raise ValueError("the packet needs a longer length")
    return bytes([0x32, len(body)]) + body


def publish(port: int, count: int) -> None:
    """Write prepared packets, and read the acknowledgements away."""
    stream = b"".join(_packet(number) for number in range(count))
    with socket.create_connection(("127.0.0.1", port)) as sock:
        name = b"MQTT"
        sock.sendall(b"\x10\x0f\x00\x04" + name + b"\x04\x02\x00\x3c\x00\x03pub")
        sock.recv(4)
        sock.setblocking(False)  # noqa: FBT003  # the socket's own signature
        sent = acknowledged = 0
        while acknowledged < 4 * count:
            try:
                acknowledged += len(sock.recv(65536))
            except BlockingIOError:
                time.sleep(0.0005)
            try:
                sent += sock.send(stream[sent : sent + 65536]) if sent < len(stream) else 0
            except BlockingIOError:
                time.sleep(0.0005)


# -- the two subscribers ---------------------------------------------------------------


def bare(port: int, count: int, version: str) -> None:
    """Acknowledge and do nothing."""
    five = version == "5"
    watch, seen = Stopwatch(), 0

    def on_message(client: Client, _data: object, _message: MQTTMessage) -> None:
        nonlocal seen
        watch.first()
        seen += 1
        if seen == count:
            watch.tell(count)
            client.disconnect()

    client = Client(
        CallbackAPIVersion.VERSION2,
        "bare",
        clean_session=None if five else True,
        protocol=MQTTProtocolVersion.MQTTv5 if five else MQTTProtocolVersion.MQTTv311,
    )
    client.on_message = on_message
    client.on_subscribe = lambda *_: print("ready", flush=True)

    def on_connect(client: Client, *_: object) -> None:
        client.subscribe("farm/#", 1)

    client.on_connect = on_connect
    if five:
        properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
        properties.ReceiveMaximum = 1000
        properties.SessionExpiryInterval = 3600
        client.connect("127.0.0.1", port, clean_start=True, properties=properties)
    else:
        client.connect("127.0.0.1", port)
    client.loop_forever()


class Timed(Session):
    """A session that notes when the first reading comes."""

    watch: Stopwatch

    def took(self, message: Message) -> None:
        """Take it, and note the first."""
        if not self.watch.first_s and not self.is_own(message.topic):
            self.watch.first()
        super().took(message)


async def ours(port: int, count: int, version: str, file: Path) -> None:
    """Decode, stamp, commit, acknowledge."""
    store, watch, done = ReadingStore.open(file), Stopwatch(), asyncio.Event()
    settings = SessionSettings(
        "127.0.0.1", port, "ours", protocol=Protocol(version), filters=("farm/#",)
    )
    session = Timed(settings, SystemClock())
    session.watch = watch
    readings = 0

    def taken(what: Taken) -> None:
        nonlocal readings
        readings += len(what.readings)
        if readings >= 2 * count:
            watch.tell(count)
            done.set()

    sensors = [Sensor(f"s{n}", f"farm/s{n}", CHANNELS) for n in range(SENSORS)]
    worker = IntakeWorker(session, store, Told(taken), Decoder(sensors), Stamper())
    session.start()
    task = asyncio.create_task(worker.run())
    while not session.status().past_fence:  # noqa: ASYNC110  # another thread sets it
        await asyncio.sleep(0.01)
    print("ready", flush=True)
    await done.wait()
    task.cancel()
    await asyncio.gather(task, return_exceptions=True)
    session.stop()
    store.close()


# -- the run ---------------------------------------------------------------------------


def _once(kind: str, count: int, version: str) -> dict[str, Any]:
    """Run one subscriber on a broker of its own: a kept session would go on queueing."""
    words = [sys.executable, "-m", "tests.benchmarks.bench_intake"]
    with tempfile.TemporaryDirectory() as folder:
        broker = Mosquitto(Path(folder)).start()
        subscriber: subprocess.Popen[str] | None = None
        more = ["--port", str(broker.port), "--messages", str(count), "--protocol", version]
        try:
            subscriber = subprocess.Popen(
                [*words, "--be", kind, *more, "--file", f"{folder}/readings.db"],
                stdout=subprocess.PIPE, text=True,
            )  # fmt: skip
            line = subscriber.stdout.readline() if subscriber.stdout else ""
            if subscriber.stdout is None or line != "ready\n":
                raise RuntimeError(f"the {kind} subscriber did not come up: {line!r}")
            subprocess.run([*words, "--be", "publisher", *more], check=True)
            result: dict[str, Any] = json.loads(subscriber.stdout.readline())
            subscriber.wait(30)
        finally:
            if subscriber is not None:
                subscriber.kill()
            broker.stop()
    return result


def compare(count: int, rounds: int, version: str) -> dict[str, float]:
    """Alternate the two, print each round, and return the medians. [messages/s]"""
    rates: dict[str, list[float]] = {"bare": [], "ours": []}
    print(f"{'round':>6} {'subscriber':>12} {'messages/s':>12} {'processor s':>12}")
    for number in range(rounds):
        for kind, found in rates.items():
            result = _once(kind, count, version)
            found.append(result["messages"] / result["seconds"])
            print(f"{number + 1:>6} {kind:>12} {found[-1]:>12,.0f} {result['cpu_s']:>12.2f}")
    return {kind: statistics.median(found) for kind, found in rates.items()}


def run(count: int, rounds: int, version: str) -> bool:
    """Compare the two, print the table, and return whether the ratio is reached."""
    print(f"{os.cpu_count()} cores, {platform.machine()}, Python {platform.python_version()}")
    print(f"mosquitto, MQTT {version}, window 1000, {count} messages of 2 readings, QoS 1;")
    print("published concurrently by a process of its own; rounds alternate\n")
    middle = compare(count, rounds, version)
    ratio = middle["ours"] / middle["bare"]
    for kind, rate in middle.items():
        print(f"{'median':>6} {kind:>12} {rate:>12,.0f}")
    print(
        f"\nratio {ratio:.2f}, to reach {REACH}: {'reached' if ratio >= REACH else 'NOT reached'}"
    )
    return ratio >= REACH


def measured(count: int, rounds: int) -> Row:
    """Return the row of MQTT 5."""
    middle = compare(count, rounds, "5")
    ratio = middle["ours"] / middle["bare"]
    return Row(
        f"intake, QoS 1, {SENSORS} two-channel JSON sensors, MQTT 5",
        f">= {REACH} of a bare subscriber",
        f"{ratio:.2f}: {middle['ours']:,.0f} messages/s (median of {rounds})",
        f"bare subscriber {middle['bare']:,.0f} messages/s",
        ratio >= REACH,
    )


def main() -> int:
    """Run the benchmark, or one of its parts in a process of its own."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--messages", type=int, default=30_000)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--protocol", choices=["5", "3.1.1"], default="5")
    parser.add_argument("--be", choices=["publisher", "bare", "ours"], help=argparse.SUPPRESS)
    parser.add_argument("--port", type=int, help=argparse.SUPPRESS)
    parser.add_argument("--file", type=Path, help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.be == "publisher":
        publish(args.port, args.messages)
    elif args.be == "bare":
        bare(args.port, args.messages, args.protocol)
    elif args.be == "ours":
        asyncio.run(ours(args.port, args.messages, args.protocol, args.file))
    else:
        return 0 if run(args.messages, args.rounds, args.protocol) else 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
