"""Trying what the files alone cannot tell: broker, addresses, disk, clock, sensors.

Nothing is sent to anybody and nothing is kept. Each part says how it is, in a sentence,
and what to do where it is not well.
"""

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import closing
from dataclasses import dataclass
from typing import Final, Literal

from monitor.clock import Clock
from monitor.courier import AppriseTransport, Transport, addresses_of
from monitor.daemon import backing
from monitor.daemon.listening import embedded_broker
from monitor.daemon.room import room_of
from monitor.daemon.survey import open_reader
from monitor.errors import BrokerError, BusyError
from monitor.farm import Farm, format_when
from monitor.mqtt.joining import settings_for
from monitor.mqtt.overhearing import overhear
from monitor.store import Ledger, lock_farm

State = Literal["ok", "warning", "error"]
_DAY_MS: Final = 86_400_000
_TESTED_MS: Final = 30 * _DAY_MS
_LEAST_DAYS: Final = 90
_LEAST_FREE: Final = 200_000_000  # bytes
_MOST_SENT: Final = 1_000
_HERE_S: Final = 0.2
_CLOCK_S: Final = 3.0


@dataclass(frozen=True, slots=True)
class Finding:
    """How one part is; ``remedy`` is empty where it is well."""

    part: str
    state: State
    text: str
    remedy: str = ""

    def __str__(self) -> str:
        return f"{self.part}: {self.text}" + (f"; {self.remedy}" if self.remedy else "")


def examine(farm: Farm, clock: Clock, transport: Transport | None = None) -> Iterator[Finding]:
    """Try each part of a farm's watch and tell how it is, one after the other."""
    farm.data_dir.mkdir(parents=True, exist_ok=True)
    yield _disk(farm, clock)
    yield _clock(farm, clock)
    watched = is_watched(farm)
    yield _monitor(watched=watched)
    yield _broker(farm, clock, watched=watched)
    yield _sensors(farm, clock)
    yield from _addresses(farm, clock, transport or AppriseTransport())
    yield _second(farm)
    yield _copies(farm)


def _copies(farm: Farm) -> Finding:
    """Say where the farm's copies are: one broken disk must not take both."""
    backup = farm.backup
    if backup is None:
        return Finding(
            "copies", "warning", "no copy of the farm is made by itself",
            "name a folder on another disk: [backup] in farm.toml",
        )  # fmt: skip
    with closing(Ledger.open(farm.data_dir / "ledger.db")) as ledger:
        standing = backing.standing_of(ledger.get(backing.KEY))
    if not backup.folder.is_dir():
        return Finding("copies", "error", f"{backup.folder} is not there", "put its disk in")
    if backup.folder.stat().st_dev == farm.data_dir.stat().st_dev:
        return Finding(
            "copies", "warning", f"{standing.word()}; {backup.folder} is on the readings' own disk",
            "name a folder on another disk",
        )  # fmt: skip
    bad = standing.failing_since_ms is not None
    return Finding("copies", "error" if bad else "ok", standing.word())


def is_watched(farm: Farm) -> bool:
    """Return whether a monitor runs on this farm."""
    try:
        with lock_farm(farm.data_dir):
            return False
    except BusyError:
        return True


def _monitor(*, watched: bool) -> Finding:
    if watched:
        return Finding("monitor", "ok", "a monitor is watching this farm")
    return Finding("monitor", "warning", "no monitor is running", "start it: cormwatch run")


def _disk(farm: Farm, clock: Clock) -> Finding:
    try:
        with tempfile.NamedTemporaryFile(dir=farm.data_dir) as tried:
            tried.write(b"x" * 4096)
            tried.flush()
            os.fsync(tried.fileno())
    except OSError as failure:
        return Finding(
            "disk", "error", f"{farm.data_dir} cannot be written ({failure.strerror})",
            "make room, or mend the folder's owner and rights",
        )  # fmt: skip
    with closing(open_reader(farm)) as reader:
        room = room_of(farm.data_dir, reader, clock.now_ms())
    if room.free < _LEAST_FREE or (room.days is not None and room.days < _LEAST_DAYS):
        return Finding("disk", "warning", room.word(), "make room, or use a larger disk")
    return Finding("disk", "ok", room.word())


def _clock(farm: Farm, clock: Clock) -> Finding:
    now_ms = clock.now_ms()
    said = f"it is {format_when(now_ms, farm.zone)} here"
    reader = open_reader(farm)
    try:
        newest_ms = max((each.received_ms for each in reader.newest().values()), default=0)
    finally:
        reader.close()
    remedy = "set the clock, and switch on time from the network (timedatectl set-ntp true)"
    if newest_ms > now_ms:
        return Finding("clock", "error", f"{said}, and readings came later than that", remedy)
    if _follows_network() is False:
        return Finding("clock", "warning", f"{said}; no time server is followed", remedy)
    return Finding("clock", "ok", said)


def _follows_network() -> bool | None:
    """Return whether the system's clock follows a time server; None where nobody says."""
    program = shutil.which("timedatectl")
    if program is None:
        return None
    try:
        told = subprocess.run(  # noqa: S603 - the system's own program, no words of anybody's
            [program, "show", "--property=NTPSynchronized", "--value"],
            capture_output=True, text=True, timeout=_CLOCK_S, check=False,
        )  # fmt: skip
    except (OSError, subprocess.TimeoutExpired):
        return None
    return {"yes": True, "no": False}.get(told.stdout.strip())


def _broker(farm: Farm, clock: Clock, *, watched: bool) -> Finding:
    if farm.broker.embedded and not watched:
        return Finding(
            "broker", "warning", "the one inside the monitor starts with it",
            "a farm runs mosquitto: README, The broker",
        )  # fmt: skip
    where = f"{farm.broker.host}:{farm.broker.port}"
    try:
        settings = settings_for(farm, expect_session=False, embedded=embedded_broker(farm))
        overhear(settings, farm.broker.listen, _HERE_S, clock, lambda _: None)
    except BrokerError as failure:
        return Finding("broker", "error", str(failure), "then run this again")
    return Finding("broker", "ok", f"{where} lets us in and listens")


def _sensors(farm: Farm, clock: Clock) -> Finding:
    reader = open_reader(farm)
    try:
        heard = reader.heard()
    finally:
        reader.close()
    now_ms, quiet = clock.now_ms(), []
    for sensor in farm.sensors.values():
        at_ms = heard.get(sensor.id)
        if at_ms is None:
            quiet.append(f"{sensor.id} never")
        elif now_ms - at_ms > sensor.silent_after_s * 1000:
            quiet.append(f"{sensor.id} since {format_when(at_ms, farm.zone)}")
    if not farm.sensors:
        return Finding("sensors", "warning", "there are none", "cormwatch sensor find")
    if not quiet:
        return Finding("sensors", "ok", f"all {len(farm.sensors)} were heard in time")
    return Finding(
        "sensors", "warning",
        f"{len(quiet)} of {len(farm.sensors)} not heard: {', '.join(quiet)}",
        "are they on, in reach, and on their topic? cormwatch sensor find lists what speaks",
    )  # fmt: skip


def _addresses(farm: Farm, clock: Clock, transport: Transport) -> Iterator[Finding]:
    addresses = addresses_of({each.id: each.addresses for each in farm.people.values()})
    if not addresses:
        yield Finding(
            "notices", "error", "nobody would be told: no one has an address",
            "give one in people.toml: README, Alerts on a phone",
        )  # fmt: skip
        return
    reached = _reached(farm)
    for (person, label), secret in addresses.items():
        part, at_ms = f"{farm.people[person].name}, address {label}", reached.get((person, label))
        if not transport.usable(secret):
            yield Finding(
                part, "error", "this is no address the program can send to",
                "mend it in people.toml, then cormwatch alarm drill",
            )  # fmt: skip
        elif at_ms is None or clock.now_ms() - at_ms > _TESTED_MS:
            last = "no" if at_ms is None else f"since {format_when(at_ms, farm.zone)} no"
            yield Finding(part, "warning", f"{last} notice has arrived", "cormwatch alarm drill")
        else:
            yield Finding(part, "ok", f"reached {format_when(at_ms, farm.zone)}")


def _reached(farm: Farm) -> Mapping[tuple[str, str], int]:
    """Return when each address last took a notice. [ms]"""
    last: dict[tuple[str, str], int] = {}
    with closing(Ledger.open(farm.data_dir / "ledger.db")) as ledger:
        for each in ledger.notices(_MOST_SENT):
            if each.sent_ms is not None:
                whose = (each.person, each.address)
                last[whose] = max(last.get(whose, 0), each.sent_ms)
    return last


def _second(farm: Farm) -> Finding:
    if farm.watcher.heartbeat_url is None:
        return Finding(
            "second watcher", "warning", "a power cut in the barn would tell nobody",
            "set one up: README, A second watcher",
        )  # fmt: skip
    return Finding("second watcher", "ok", "heartbeats go out to it; the first page says if heard")


__all__ = ["Finding", "examine", "is_watched"]
