"""``cormwatch demo``: the whole job on a made-up farm, at 60 times real speed."""

import argparse
import asyncio
import contextlib
import logging
import signal
import socket
import sys
import tempfile
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Final

from monitor.cli.demo_batches import record
from monitor.cli.demo_history import Past
from monitor.clock import ScaledClock, SystemClock
from monitor.daemon.listening import publisher_broker
from monitor.daemon.running import Daemon, Options
from monitor.farm import Farm, load
from monitor.farm.starting import Start, write_starter
from monitor.model import Notice
from monitor.store import Ledger, ReadingStore
from simulator.farm import SimulatedFarm
from simulator.faults import FaultKind
from simulator.publishing import Publisher, pace
from simulator.scenarios import fault_at

RATE: Final = 60.0
WEEKS_MS: Final = 21 * 86_400_000
FAILS_AFTER_MS: Final = 3_600_000
_ENDLESS_MS: Final = 365 * 86_400_000
_DAY_MS: Final = 86_400_000
_FIRST_PORT: Final = 8484


def register(parser: argparse.ArgumentParser) -> None:
    """Add what ``demo`` takes."""
    parser.add_argument("--port", type=int, help="serve the pages at this port")
    parser.add_argument("--seed", type=int, default=4, help="another farm life")
    parser.add_argument("--seconds", type=float, help="end by itself after so long")
    parser.set_defaults(run=demo)


class _Phone(BaseHTTPRequestHandler):
    """A phone on the same desk: it takes every notice."""

    def do_POST(self) -> None:
        """Take one notice."""
        self.rfile.read(int(self.headers.get("content-length", "0")))
        self.send_response(200)
        self.end_headers()

    def log_message(self, *_args: object) -> None:
        """Say nothing: the notice itself is printed when it was sent."""


@contextlib.contextmanager
def _phone() -> Iterator[int]:
    server = ThreadingHTTPServer(("127.0.0.1", 0), _Phone)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield server.server_address[1]
    finally:
        server.shutdown()
        server.server_close()


def _free_port(first: int = 0) -> int:
    """Return the port asked for if it is free, else any that is."""
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("127.0.0.1", first))
        except OSError:
            return _free_port()
        port: int = probe.getsockname()[1]
    return port


def demo(args: argparse.Namespace) -> int:
    """Make a farm, fill its past, and run it on until Ctrl-C; nothing is left behind."""
    logging.basicConfig(level=logging.ERROR)
    with tempfile.TemporaryDirectory(prefix="cormwatch-demo-") as folder, _phone() as phone:
        farm = _farm(Path(folder) / "farm", phone)
        now_ms = SystemClock().now_ms()
        print(f"A made-up farm, {farm.name}, in {folder}.", flush=True)
        record(farm.directory, farm.zone, now_ms)
        fault = fault_at(farm, FaultKind.COMPRESSOR_DEAD, now_ms + FAILS_AFTER_MS)
        life = SimulatedFarm(farm, args.seed, now_ms - WEEKS_MS, [fault])
        _past(farm, life, now_ms)
        port = _free_port(_FIRST_PORT) if args.port is None else args.port
        _Live(farm, life, ScaledClock(now_ms, RATE), port, args.seconds).run()
    print("The demo has ended; its folder is gone.")
    return 0


def _farm(folder: Path, phone: int) -> Farm:
    address = f"json://127.0.0.1:{phone}"
    start = Start(embedded=True, port=_free_port(), address=address)
    write_starter(folder, start, {})
    return load(folder)


def _past(farm: Farm, life: SimulatedFarm, now_ms: int) -> None:
    store = ReadingStore.open(farm.data_dir / "readings.db")
    ledger = Ledger.open(farm.data_dir / "ledger.db")
    try:
        count = Past(farm, store, ledger).fill(
            life.messages(now_ms), now_ms - WEEKS_MS, now_ms
        )  # fmt: skip
    finally:
        store.close()
        ledger.close()
    print(f"Three weeks of history: {count:,} messages decoded, stored and judged.", flush=True)


@dataclass
class _Live:
    """The farm living on at sixty times real speed, until Ctrl-C or the seconds are over."""

    farm: Farm
    life: SimulatedFarm
    clock: ScaledClock
    port: int
    seconds: float | None

    def run(self) -> None:
        """Run daemon and simulator together."""
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._publish, daemon=True)
        try:
            asyncio.run(self._watch())
        finally:
            self._stop.set()
            if self._thread.ident is not None:
                self._thread.join(5.0)

    async def _watch(self) -> None:
        options = Options(self.clock, self.port, self._notice, self._ready)
        daemon = Daemon(self.farm, options)
        loop = asyncio.get_running_loop()
        for name in (signal.SIGINT, signal.SIGTERM):
            loop.add_signal_handler(name, daemon.stop.set)
        if self.seconds is not None:
            loop.call_later(self.seconds, daemon.stop.set)
        await daemon.run()

    def _ready(self, address: str) -> None:
        self._thread.start()
        print(
            f"Open {address}\n"
            f"It runs at {RATE:.0f} times real speed. In about a minute the walk-in cooler's "
            "compressor dies;\neach notice is printed here as it is sent. Ctrl-C ends it.",
            flush=True,
        )

    def _notice(self, notice: Notice) -> None:
        print(f"\n>> to {notice.person}: {notice.title}\n   {notice.body}", flush=True)

    def _publish(self) -> None:
        try:
            with Publisher(publisher_broker(self.farm)) as publisher:
                pace(self.life.messages(self.clock.now_ms() + _ENDLESS_MS), publisher,
                     self.clock, self._stop)  # fmt: skip
        except Exception as failure:  # noqa: BLE001 - told: the demo goes on without readings
            print(f"The simulator stopped: {failure}", file=sys.stderr)
