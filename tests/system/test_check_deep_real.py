"""``cormwatch check --deep`` with a real broker: what is well, and what is not."""

import errno
import json
import os
import time
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from monitor.cli import main
from monitor.clock import SystemClock
from monitor.courier import AppriseTransport
from monitor.daemon.examining import Finding, examine
from monitor.farm import Backup, Farm, load
from monitor.model import Channel, Flag, Notice, NoticeKind, Quantity, Reading
from monitor.store import Commit, Ledger, ReadingStore, lock
from tests.system.brokers import Mosquitto, free_port
from tests.system.disks import small_disk

pytestmark = pytest.mark.system
Said = pytest.CaptureFixture[str]
AIR = Channel("cooler-back", Quantity.TEMPERATURE)
HOUR_MS, DAY_MS = 3_600_000, 86_400_000


@pytest.fixture
def farm(tmp_path: Path, mosquitto: Mosquitto) -> Farm:
    """Return a starter farm at the broker."""
    folder = tmp_path / "farm"
    assert main(["init", str(folder), "--yes", "--broker", f"127.0.0.1:{mosquitto.port}"]) == 0
    (folder / "data").mkdir()
    return load(folder)


def found(farm: Farm) -> dict[str, Finding]:
    """Return each finding by its part."""
    return {each.part: each for each in examine(farm, SystemClock(), AppriseTransport())}


def hear(farm: Farm, *ago_ms: int) -> None:
    """Store readings of one sensor, received so long ago."""
    now_ms = time.time_ns() // 1_000_000
    store = ReadingStore.open(farm.data_dir / "readings.db")
    at = [now_ms - each for each in ago_ms]
    store.commit(Commit([Reading(AIR, each, 3.0, Flag.NONE, each) for each in at],
                        heard={AIR.sensor: max(at)}))  # fmt: skip
    store.close()


def test_a_new_farm_hears_what_is_missing(farm: Farm, capsys: Said) -> None:
    """The broker answers; no monitor, silent sensors, no address and no second watcher are said."""
    capsys.readouterr()
    assert main(["check", "--deep", "--json", "--farm", str(farm.directory)]) == 2
    rows = {each["part"]: each for each in json.loads(capsys.readouterr().out) if "part" in each}
    assert {part: each["state"] for part, each in rows.items()} == {
        "disk": "ok", "clock": rows["clock"]["state"], "monitor": "warning", "broker": "ok",
        "sensors": "warning", "notices": "error", "second watcher": "warning",
        "copies": "warning",
    }  # fmt: skip
    assert "8 of 8 not heard" in rows["sensors"]["text"]


def test_a_farm_that_is_watched_and_heard(farm: Farm) -> None:
    """A running monitor, a sensor just heard and an address just reached are well."""
    hear(farm, 10 * DAY_MS, 20_000)
    lone = replace(farm, sensors={AIR.sensor: farm.sensors[AIR.sensor]})
    with lock(farm.data_dir / "cormwatch.lock"):
        told = found(lone)
    assert told["monitor"].state == "ok"
    assert told["sensors"] == Finding("sensors", "ok", "all 1 were heard in time")
    assert "at this rate" in told["disk"].text


def test_copies_are_to_lie_on_another_disk(farm: Farm, tmp_path: Path) -> None:
    """A folder on the readings' own disk is doubtful, one that is not there wrong."""
    beside, stick = tmp_path / "beside", tmp_path / "stick"
    beside.mkdir()
    assert "own disk" in found(replace(farm, backup=Backup(beside)))["copies"].text
    away = replace(farm, backup=Backup(stick))
    assert found(away)["copies"].state == "error"
    with small_disk(stick, 4):
        assert found(away)["copies"] == Finding("copies", "ok", "none yet")


def test_addresses(farm: Farm) -> None:
    """No address of a known form is an error; one never reached is named; one reached is well."""
    (farm.directory / "people.toml").write_text(
        '[[person]]\nid = "ida"\nname = "Ida"\n'
        'addresses = ["json://127.0.0.1:9/a", "nosuch://127.0.0.1", "json://127.0.0.1:9/c"]\n',
        encoding="utf-8",
    )
    now_ms = time.time_ns() // 1_000_000
    with closing(Ledger.open(farm.data_dir / "ledger.db")) as ledger:
        wanted = Notice(0, None, NoticeKind.DRILL, "ida", "3", "test", "test", now_ms, now_ms)
        (kept,) = ledger.add_notices([wanted])
        ledger.record_attempt(kept.id, now_ms, sent=True)
    told = found(load(farm.directory))
    assert [told[f"Ida, address {n}"].state for n in (1, 2, 3)] == ["warning", "error", "ok"]
    assert "no notice has arrived" in told["Ida, address 1"].text


def test_a_broker_that_is_gone_or_refuses(farm: Farm) -> None:
    """It is named, with what to look at."""
    gone = replace(farm, broker=replace(farm.broker, port=free_port()))
    assert found(gone)["broker"].state == "error"
    assert "cannot be reached" in found(gone)["broker"].text


def test_a_clock_before_its_own_readings(farm: Farm) -> None:
    """A computer that woke in the past is an error: readings came later than now."""
    hear(farm, -2 * HOUR_MS)
    assert found(farm)["clock"].state == "error"


def test_a_disk_that_is_full(farm: Farm, monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk that takes nothing is an error that names the folder."""

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    told = next(iter(examine(farm, SystemClock())))
    assert (told.part, told.state) == ("disk", "error")
    assert str(farm.data_dir) in told.text


def test_the_broker_inside_starts_with_the_monitor(tmp_path: Path) -> None:
    """Without a monitor there is nothing to reach, and a real broker is spoken of."""
    assert main(["init", str(tmp_path / "farm"), "--yes", "--embedded"]) == 0
    assert "starts with it" in found(load(tmp_path / "farm"))["broker"].text
