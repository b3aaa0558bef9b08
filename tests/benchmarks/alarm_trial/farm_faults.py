"""Every fault on a whole farm: told, how soon, and what a quiet farm tells.

Run as ``python -m tests.benchmarks.alarm_trial.farm_faults [--farms N]``. The starter farm
with its made-up batches lives twelve days of the simulator's weather, doors, defrosts,
loads and dropouts; on the tenth something fails. What it would have told is found by
`Replay`, from the stored readings alone. The reference is a plain limit on the place's air
or soil, held for some minutes, with the place's own harm limits.
"""

import argparse
import sys
import tempfile
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

import numpy as np
from tqdm import tqdm

from monitor.cli.demo_batches import record
from monitor.daemon.replaying import Replay, Replayed
from monitor.farm import Farm, Place, load
from monitor.farm.starting import Start, write_starter
from monitor.model import Channel, LedgerEntry, PlaceKind, Priority, Quantity
from monitor.notices import instant_ms
from monitor.store import Ledger, ReadingReader
from monitor.watch.events import Times
from simulator.farm import SimulatedFarm
from simulator.faults import Fault, FaultKind
from simulator.scenarios import fault_at
from tests.benchmarks.alarm_trial.detectors import runs
from tests.benchmarks.bench_replay import keep

_HOUR_MS: Final = 3_600_000
_DAY_MS: Final = 24 * _HOUR_MS
_MARCH_MS: Final = 1_774_000_000_000
_START_MS: Final = {  # where the season makes the fault
    FaultKind.HEATER_DEAD: 1_768_000_000_000,  # January
    FaultKind.HEATER_STUCK_ON: 1_781_000_000_000,  # June
    FaultKind.TUNNEL_CLOSED: 1_781_000_000_000,
}
_BEFORE_DAYS, _AFTER_DAYS = 9, 3
_SLOW: Final = (FaultKind.CAPACITY_LOST, FaultKind.DRIFT)
_SLOW_DAYS: Final = 8
_LEAST_OUT: Final = 30  # steps of a minute: what is kept there has left its band
_FIRST_SEED: Final = 301
_HELD_MIN: Final = (0.0, 15.0, 45.0)


@dataclass(frozen=True, slots=True)
class Played:
    """What one farm told, before and after something failed. [ms]"""

    began_ms: int
    needless: int
    told_ms: int | None
    kind: str
    plain: tuple[Times, ...]
    harmed_ms: int | None


def played(kind: FaultKind, seed: int) -> Played:
    """Play one farm; a fault begins at an hour that the seed throws."""
    dice = np.random.default_rng([seed, 31])
    start_ms = _START_MS.get(kind, _MARCH_MS)
    fault_ms = start_ms + _BEFORE_DAYS * _DAY_MS + round(dice.uniform(0.0, 24.0) * _HOUR_MS)
    until_ms = fault_ms + (_SLOW_DAYS if kind in _SLOW else _AFTER_DAYS) * _DAY_MS
    with tempfile.TemporaryDirectory(prefix="farm-trial-") as name:
        folder = Path(name) / "farm"
        write_starter(folder, Start(), {})
        farm = load(folder)
        record(folder, farm.zone, fault_ms)
        fault = fault_at(farm, kind, fault_ms)
        keep(farm, SimulatedFarm(farm, seed, start_ms, (fault,)).messages(until_ms))
        reader = ReadingReader(farm.data_dir / "readings.db")
        entries = _entries(farm)
        told = Replay(farm, entries, reader, start_ms, until_ms).run()
        place = _place(farm, fault)
        watched = [place] if place else list(farm.places.values())
        plain = tuple(_plain(farm, watched, reader, held) for held in _HELD_MIN)
        reader.close()
    harm_ms = None
    if place is not None:
        life = SimulatedFarm(farm, seed, start_ms, (fault,))
        harm_ms = _harmed(life, place, fault_ms, until_ms)
    told = [_in_the_morning(farm, each) for each in told]
    first = _first(told, fault_ms, None if place is None else place.id)
    return Played(
        fault_ms, sum(_wakes(farm, each) for each in told if each.raised.at_ms < fault_ms),
        None if first is None else first.notified_ms,
        "" if first is None else first.raised.key.kind.value, plain, harm_ms,
    )  # fmt: skip


def _in_the_morning(farm: Farm, told: Replayed) -> Replayed:
    """Return what is low as told by the next morning's message, if it still lasts then."""
    if told.raised.priority is not Priority.LOW or told.raised.expected:
        return told
    raised = datetime.fromtimestamp(told.raised.at_ms / 1000, farm.zone)
    at_ms = instant_ms(raised.date(), farm.notices.morning_at, farm.zone)
    if at_ms < told.raised.at_ms:
        tomorrow = raised.date() + timedelta(days=1)
        at_ms = instant_ms(tomorrow, farm.notices.morning_at, farm.zone)
    lasts = told.returned_ms is None or told.returned_ms > at_ms
    return replace(told, notified_ms=at_ms if lasts else None)


def _place(farm: Farm, fault: Fault) -> Place | None:
    if fault.kind is FaultKind.FROST_NIGHT:
        return next(each for each in farm.places.values() if each.kind is PlaceKind.TUNNEL)
    sensor = farm.sensors.get(fault.subject)
    return farm.places.get(sensor.place if sensor else fault.subject)


def _entries(farm: Farm) -> list[LedgerEntry]:
    with closing(Ledger.open(farm.data_dir / "ledger.db")) as ledger:
        return ledger.entries()


def _wakes(farm: Farm, told: Replayed) -> bool:
    """Return whether it wakes someone for a place that has walls: frosts are weather."""
    place = farm.places.get(told.raised.place or "")
    if place is not None and place.kind is PlaceKind.TUNNEL:
        return False
    return told.raised.priority is Priority.HIGH and told.notified_ms is not None


def _first(told: list[Replayed], since_ms: int, place: str | None) -> Replayed | None:
    """Return the first alarm of the place, or of the whole farm, that reached a phone."""
    mine = [
        each
        for each in told
        if each.raised.at_ms >= since_ms
        and each.notified_ms is not None
        and (place is None or each.raised.place in {place, None})
    ]
    return min(mine, key=lambda each: each.notified_ms or 0, default=None)


def _plain(farm: Farm, places: list[Place], reader: ReadingReader, held_min: float) -> Times:
    """Return when a limit on the air, held for some minutes, would have told. [ms]"""
    found: list[int] = []
    for sensor in farm.sensors.values():
        place = next((each for each in places if each.id == sensor.place), None)
        band = None if place is None else place.bands.get(Quantity.TEMPERATURE)
        if band is None or band.harm is None:
            continue
        series = reader.series(Channel(sensor.id, Quantity.TEMPERATURE), 0)
        if not len(series.at_ms):
            continue
        high = np.inf if band.harm.high is None else band.harm.high
        low = -np.inf if band.harm.low is None else band.harm.low
        first, last = runs((series.raw > high) | (series.raw < low))
        long = series.at_ms[last] - series.at_ms[first] >= held_min * 60_000
        found += (series.at_ms[first][long] + round(held_min * 60_000)).tolist()
    return np.array(sorted(found), dtype=np.int64)


def _harmed(life: SimulatedFarm, place: Place, fault_ms: int, until_ms: int) -> int | None:
    """Return when what is kept in a place left its band for over half an hour. [ms]

    In a tunnel the air stands for its plants. What was out already as it failed is the weather.
    """
    low, high = _limits(place)
    truths = [each[place.id] for each in life.truths(until_ms)]
    at_ms = np.concatenate([each.at_ms for each in truths])
    air = place.kind is PlaceKind.TUNNEL
    kept_c = np.concatenate([each.air_c if air else each.contents_c for each in truths])
    first, last = runs((kept_c > high) | (kept_c < low))
    long = first[(last - first >= _LEAST_OUT) & (at_ms[first] >= fault_ms)]
    return int(at_ms[long[0]]) if long.size else None


def _limits(place: Place) -> tuple[float, float]:
    """Return a place's harm limits; in a cooler the top of the ideal band. [°C]"""
    band = place.bands.get(Quantity.TEMPERATURE)
    if band is None or band.harm is None:
        return -np.inf, np.inf
    ideal = band.ideal if place.kind is PlaceKind.COOLER else None
    high = band.harm.high if ideal is None else ideal.high
    return (
        -np.inf if band.harm.low is None else band.harm.low,
        np.inf if high is None else high,
    )


def _after(told_ms: Times, since_ms: int) -> float:
    later = told_ms[told_ms >= since_ms]
    return float(later[0] - since_ms) / 60_000.0 if later.size else np.inf


def _row(name: str, farms: list[Played]) -> str:
    waits = np.array([
        np.inf if each.told_ms is None else (each.told_ms - each.began_ms) / 60_000.0
        for each in farms
    ])  # fmt: skip
    plain = [
        float(np.median([_after(each.plain[k], each.began_ms) for each in farms]))
        for k in range(len(_HELD_MIN))
    ]
    harmed = [each for each in farms if each.harmed_ms is not None]
    spare = np.array([
        -np.inf if each.told_ms is None else ((each.harmed_ms or 0) - each.told_ms) / 60_000.0
        for each in harmed
    ])  # fmt: skip
    kinds = ", ".join(sorted({each.kind.replace("_", " ") for each in farms if each.kind}))
    return (
        f"| {name} | {int(np.isfinite(waits).sum())} of {len(farms)} "
        f"| {np.median(waits):.0f} | {waits.max():.0f} "
        f"| {int((spare > 0).sum())} of {len(harmed)} "
        f"| {f'{np.median(spare):.0f}' if harmed else '-'} | {kinds} "
        f"| {' / '.join(f'{each:.0f}' for each in plain)} |"
    )


def _quiet(farms: list[Played]) -> str:
    months = len(farms) * _BEFORE_DAYS / 30.0
    plain = [
        sum(int((each.plain[k] < each.began_ms).sum()) for each in farms) / months
        for k in range(len(_HELD_MIN))
    ]
    ours = sum(each.needless for each in farms) / months
    return (
        f"Quiet days before, tunnels aside, notices that wake, a farm-month: {ours:.2f} "
        f"(a plain limit in the place of the fault held {_HELD_MIN} min: "
        f"{' / '.join(f'{each:.1f}' for each in plain)}), {months:.1f} farm-months\n"
    )


def main() -> int:
    """Play the farms and print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--farms", type=int, default=5, help="farms a fault")
    parser.add_argument("--fault", action="append", choices=[each.value for each in FaultKind])
    asked = parser.parse_args()
    sys.stdout.write(
        "| fault | told | min to the first notice, median | worst | before harm "
        "| min left, median | told as | plain limit held 0 / 15 / 45 min, median min |\n"
        "|---|---|---|---|---|---|---|---|\n"
    )
    every: list[Played] = []
    for number, kind in enumerate(tqdm(list(FaultKind), leave=False)):
        if asked.fault and kind.value not in asked.fault:
            continue
        seeds = range(_FIRST_SEED + 100 * number, _FIRST_SEED + 100 * number + asked.farms)
        farms = [played(kind, seed) for seed in seeds]
        every += farms
        sys.stdout.write(_row(kind.value.replace("_", " "), farms) + "\n")
        sys.stdout.flush()
    sys.stdout.write("\n" + _quiet(every))
    return 0


if __name__ == "__main__":
    sys.exit(main())
