"""Session, worker and store together, killed and brought back, against real brokers."""

import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from monitor.model import Channel, Quantity
from monitor.store import ReadingStore
from tests.system.brokers import Mosquitto, publish, wait_until

pytestmark = pytest.mark.system
ROOT = Path(__file__).resolve().parents[2]
SHED = Channel("shed", Quantity.TEMPERATURE)
BOTH = pytest.mark.parametrize("version", ["5", "3.1.1"])


def start(port: int, version: str, file: Path, *more: int) -> subprocess.Popen[bytes]:
    """Start the subscriber process."""
    file.with_suffix(".ready").unlink(missing_ok=True)
    words = [str(port), version, str(file), *map(str, more)]
    return subprocess.Popen(
        [sys.executable, "-W", "error", "-m", "tests.system.intake_process", *words], cwd=ROOT
    )


@contextmanager
def subscriber(port: int, version: str, file: Path) -> Iterator[subprocess.Popen[bytes]]:
    """Run the subscriber process, and kill it at the end."""
    process = start(port, version, file)
    try:
        yield process
    finally:
        process.kill()
        process.wait(10)


def stored(file: Path) -> int:
    """Return how many readings the file holds now."""
    if not file.exists():
        return 0
    with closing(sqlite3.connect(file)) as connection:
        try:
            count: int = connection.execute("SELECT count(*) FROM readings").fetchone()[0]
        except sqlite3.OperationalError:  # the tables are being made
            return 0
    return count


def values(file: Path) -> list[float]:
    """Return all stored values of the shed's thermometer, rounded as they were sent."""
    reader = ReadingStore.open(file).reader()
    series = reader.series(SHED, 0, 2**60)
    return [round(value, 3) for value in series.raw.tolist()]


def value(number: int) -> float:
    """Return the value of the n-th message: each its own, all of them credible."""
    return round(1.0 + number / 1000, 3)


def messages(first: int, after: int) -> list[tuple[str, bytes]]:
    """Return messages that carry no time."""
    return [("shed/t", f"{value(n):.3f}".encode()) for n in range(first, after)]


def join(mosquitto: Mosquitto, version: str, file: Path) -> None:
    """Let the subscriber once be known to the broker, so that it keeps what comes."""
    with subscriber(mosquitto.port, version, file):
        wait_until(file.with_suffix(".ready").exists)
        publish(mosquitto.port, messages(0, 1))
        wait_until(lambda: stored(file) == 1)


@BOTH
def test_killed_again_and_again_each_message_is_stored_once(
    mosquitto: Mosquitto, tmp_path: Path, version: str
) -> None:
    """Kill -9 at any moment stores each QoS 1 message exactly once, device time or not."""
    file = tmp_path / "readings.db"
    join(mosquitto, version, file)

    def send() -> None:
        for first in range(1, 2000, 25):
            publish(mosquitto.port, messages(first, min(first + 25, 2000)))
            time.sleep(0.02)

    sender = threading.Thread(target=send)
    sender.start()
    kills = 0
    while sender.is_alive() or kills < 5:
        before = stored(file)
        with subscriber(mosquitto.port, version, file):
            while stored(file) == before and sender.is_alive():
                time.sleep(0.001)
            time.sleep(0.003 * (kills % 7))
        kills += 1
    sender.join()
    with subscriber(mosquitto.port, version, file):
        wait_until(lambda: stored(file) >= 2000)
        publish(mosquitto.port, messages(2000, 2001))
        wait_until(lambda: stored(file) >= 2001)
    assert kills >= 5
    assert sorted(values(file)) == [value(n) for n in range(2001)]


@BOTH
@pytest.mark.parametrize("commits", [1, 2, 3])
def test_killed_between_commit_and_acknowledgement_stores_once(
    mosquitto: Mosquitto, tmp_path: Path, version: str, commits: int
) -> None:
    """What was committed and never acknowledged comes again and is not stored again."""
    file = tmp_path / "readings.db"
    join(mosquitto, version, file)
    publish(mosquitto.port, messages(1, 2000))
    dying = start(mosquitto.port, version, file, commits)
    dying.wait(30)
    assert stored(file) > 1
    with subscriber(mosquitto.port, version, file):
        wait_until(lambda: stored(file) >= 2000)
        publish(mosquitto.port, messages(2000, 2001))
        wait_until(lambda: stored(file) >= 2001)
    assert values(file)[:2001] == [value(n) for n in range(2001)]
    assert stored(file) == 2001


@BOTH
def test_a_broker_killed_while_we_listen_loses_nothing_it_kept(
    mosquitto: Mosquitto, tmp_path: Path, version: str
) -> None:
    """A broker stopped and started between commits brings each message once."""
    file = tmp_path / "readings.db"
    with subscriber(mosquitto.port, version, file):
        wait_until(file.with_suffix(".ready").exists)
        publish(mosquitto.port, messages(0, 1))
        wait_until(lambda: stored(file) == 1)
        for first in range(1, 601, 200):
            publish(mosquitto.port, messages(first, first + 200))
            mosquitto.stop()
            mosquitto.start()
        wait_until(lambda: stored(file) >= 601)
    assert values(file) == [value(n) for n in range(601)]
