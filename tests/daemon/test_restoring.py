"""A daemon that is stopped and started again knows and tells what one never stopped does."""

import asyncio
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, Final
from zoneinfo import ZoneInfo

import pytest

from monitor.farm import Calibration, Farm
from monitor.model import (
    Alarm,
    AlarmKind,
    Channel,
    EntryKind,
    Flag,
    NewEntry,
    Reading,
    Stage,
)
from monitor.watch import WatchState
from simulator.alone import around_cooler, play_cooler
from simulator.cooler import CoolerSize
from simulator.faults import Fault, FaultKind
from simulator.weather import Climate
from simulator.working_day import Habits
from tests.daemon.made import Post, farm
from tests.watch import made
from tests.watch.made import DAMP, HOUR_MS, MINUTE_MS, NORTH, SOUTH, START_MS

HOURS: Final = 40
DEAD_FROM_H, DEAD_UNTIL_H = 12, 22
PACK: Final = 10
STOPS_H: Final = (3.0, 11.5, 12.7, 13.5, 16.0, 21.0, 24.0, 25.0, 33.0)
"""Calm, just before, within the delay, raised, 4 and 9 h on, cooling, back, long after."""


@pytest.fixture(scope="module")
def played() -> list[list[Reading]]:
    """Return a cooler whose compressor is dead for ten hours, in packs of ten minutes."""
    around = around_cooler(
        Climate(41.0, -75.0), ZoneInfo("America/New_York"), 3, START_MS, days=HOURS / 24
    )
    dead = Fault(
        FaultKind.COMPRESSOR_DEAD, START_MS + DEAD_FROM_H * HOUR_MS,
        until_ms=START_MS + DEAD_UNTIL_H * HOUR_MS,
    )  # fmt: skip
    truth = play_cooler(CoolerSize(), Habits(), around, ZoneInfo("UTC"), 5, faults=(dead,))
    columns = {NORTH: truth.air_c, SOUTH: truth.air_c + 0.4, DAMP: truth.humidity_pct}
    return [
        [
            Reading(channel, int(at_ms), float(value), Flag.DEVICE_TIME, int(at_ms))
            for channel, values in columns.items()
            for at_ms, value in zip(
                truth.at_ms[start : start + PACK], values[start : start + PACK], strict=True
            )
        ]
        for start in range(0, len(truth.at_ms), PACK)
    ]


def cooler_farm(folder: Path) -> Farm:
    """Return the farm: stems bear two hours over 8 °C in all; one sensor was calibrated."""
    stems = replace(
        made.RANUNCULUS.stages["cut_stems"],
        bands={NORTH.quantity: made.band(None, 8.0, 600.0, None, cumulative_s=7200.0)},
    )
    stages: dict[str, Stage] = {**made.RANUNCULUS.stages, "cut_stems": stems}
    crop = replace(made.RANUNCULUS, stages=stages)
    plain = farm(folder, crops={"ranunculus": crop})
    south = plain.sensors["south"]
    since = (Calibration(START_MS + 14 * HOUR_MS, -0.7, 1.0, "ice bath"),)
    channels = tuple(replace(each, calibrations=since) for each in south.channels)
    return replace(plain, sensors={**plain.sensors, "south": replace(south, channels=channels)})


@pytest.fixture
def lived(tmp_path: Path) -> Iterator[list[Post]]:
    """Yield two such farms, a batch of stems in each cooler."""
    posts = []
    for name in ("steady", "stopped"):
        post = Post(cooler_farm(tmp_path / name))
        data: dict[str, Any] = {
            "crop": "ranunculus", "cultivar": "Dawn Apricot", "count": 320, "unit": "stems",
            "place": "cooler", "stage": "cut_stems",
        }  # fmt: skip
        new = NewEntry(None, EntryKind.ADDED, START_MS + HOUR_MS, "wren", data)
        post.ledger.write_entries(lambda _, new=new: [new], START_MS)  # type: ignore[misc]
        post.start()
        posts.append(post)
    yield posts
    for post in posts:
        post.close()


def standing(state: WatchState) -> dict[Channel, Any]:
    """Return what is yet to be told of each channel hangs on."""
    return {
        channel: [(each.run, each.spell, each.told_times) for each in track.standings]
        + [track.newest, track.trust]
        for channel, track in state.tracks.items()
    }


def whole_ms(post: Post) -> dict[Any, int]:
    """Return the time outside in all, by each line that bounds a whole stay. [ms]"""
    return {
        (channel, line.key): standing.whole_ms
        for channel, plan in post.judge.state.plan.channels.items()
        for line, standing in zip(
            plan.lines, post.judge.state.tracks[channel].standings, strict=True
        )
        if line.cumulative_ms is not None
    }


def rows(alarms: Sequence[Alarm]) -> list[tuple[object, ...]]:
    """Return what a person knows of alarms, apart from the words."""
    return [
        (each.key, each.state, each.began_ms, each.raised_ms, each.returned_ms, each.peak)
        for each in alarms
    ]


def test_a_restart_changes_nothing(played: list[list[Reading]], lived: list[Post]) -> None:
    """Started anew nine times through a ten-hour failure, it stands and tells alike."""
    steady, stopped = lived
    stops = [START_MS + round(hours * HOUR_MS) for hours in STOPS_H]
    for pack in played:
        for post in lived:
            post.hear(pack)
            asyncio.run(post.judge.write())
        if stops and pack[-1].at_ms >= stops[0]:
            stops.pop(0)
            stopped.judge.note_judged()
            stopped.start()
            assert not stopped.judge.pending
            assert standing(stopped.judge.state) == standing(steady.judge.state)
            assert whole_ms(stopped) == whole_ms(steady)
    assert not stops
    found = rows(steady.ledger.alarms())
    assert AlarmKind.TOO_WARM in [row[0].kind for row in found]  # type: ignore[attr-defined]
    assert rows(stopped.ledger.alarms()) == found
    assert len(stopped.ledger.notices()) == len(steady.ledger.notices())


@pytest.mark.parametrize("hours", [12.5, 12.8, 13.0, 13.2, 13.5, 14.0, 21.8, 22.2])
def test_what_was_stored_and_not_judged_at_a_kill_is_told_after_it(
    played: list[list[Reading]], lived: list[Post], hours: float
) -> None:
    """Half an hour that the ledger knows nothing of is told at the start, once, and no more."""
    steady, killed = lived
    cut_ms = START_MS + round(hours * HOUR_MS)
    for pack in played:
        steady.hear(pack)
        asyncio.run(steady.judge.write())
        newest_ms = pack[-1].at_ms
        if cut_ms < newest_ms <= cut_ms + 30 * MINUTE_MS:
            killed.clock.now = newest_ms
            killed.keep(pack)
            continue
        if cut_ms + 30 * MINUTE_MS < newest_ms <= cut_ms + 40 * MINUTE_MS:
            killed.start()
        killed.hear(pack)
        asyncio.run(killed.judge.write())
        if newest_ms <= cut_ms:
            killed.judge.note_judged()
        if newest_ms > cut_ms + 3 * HOUR_MS:
            break
    assert standing(killed.judge.state) == standing(steady.judge.state)
    assert whole_ms(killed) == whole_ms(steady)
    assert keys(killed) == keys(steady)
    assert len(killed.ledger.notices()) == len(steady.ledger.notices())


def keys(post: Post) -> list[tuple[object, ...]]:
    """Return which alarms there were, when they began and how they stand."""
    return [(each.key, each.state, each.began_ms) for each in post.ledger.alarms()]
