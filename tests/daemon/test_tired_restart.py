"""A cooler that has worked harder for weeks, and a daemon that is started anew meanwhile."""

import asyncio
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import numpy as np
import pytest

from monitor.model import Alarm, AlarmKind, AlarmState, Flag, Quantity, Reading
from monitor.watch.warming import Warming
from tests.daemon.made import Post, farm
from tests.watch.made import NORTH, sensor
from tests.watch.warming.test_working import DAY_MS, MIDNIGHT_MS, losing

SOUND_DAYS, WEAK_DAYS, MENDED_DAYS = 8, 33, 3
STOPS: Final = (9, 10, 14, 30, 41)
"""Days: as it weakens, just told, within the month read, and twice long after."""


@pytest.fixture
def lived(tmp_path: Path) -> Iterator[tuple[Post, Post]]:
    """Yield two farms with one thermometer in the cooler."""
    posts = tuple(
        Post(farm(tmp_path / name, sensors=[sensor("north", (Quantity.TEMPERATURE,))]))
        for name in ("steady", "stopped")
    )
    yield posts[0], posts[1]
    for post in posts:
        post.close()


def packs() -> Iterator[list[Reading]]:
    """Yield the cooler's readings, a pack a day: sound, a third weaker for weeks, mended."""
    losses = [0.3] * WEAK_DAYS + [0.0] * MENDED_DAYS
    at_ms, air_c = losing(SOUND_DAYS, losses, every_s=60.0)
    days = np.flatnonzero(np.diff(at_ms // DAY_MS)) + 1
    for times, values in zip(np.split(at_ms, days), np.split(air_c, days), strict=True):
        yield [
            Reading(NORTH, at, value, Flag.DEVICE_TIME, at)
            for at, value in zip(times.tolist(), values.tolist(), strict=True)
        ]


def tired(post: Post) -> list[Alarm]:
    """Return what was told of the cooler's machine."""
    return [each for each in post.ledger.alarms() if each.key.kind is AlarmKind.WORKING_HARDER]


def warming(post: Post) -> Warming:
    """Return what the cooler's air has taught."""
    return post.judge.state.tracks[NORTH].warming


def test_a_weak_machine_stays_told_over_a_restart_weeks_later(lived: tuple[Post, Post]) -> None:
    """Whenever it is started anew, it knows the figures it told by, and tells one return."""
    for day, pack in enumerate(packs(), 1):
        for post in lived:
            post.hear(pack)
            asyncio.run(post.judge.write())
        steady, stopped = lived
        if day in STOPS:
            stopped.judge.note_judged()
            stopped.start()
            assert not stopped.judge.pending
        assert warming(stopped).harder == warming(steady).harder
        assert warming(stopped).worked == warming(steady).worked
        if day == STOPS[-1]:
            assert [each.state for each in tired(stopped)] == [AlarmState.UNACKNOWLEDGED]
    ended = [tired(post) for post in lived]
    assert ended[0] == ended[1]
    [alarm] = ended[1]
    assert alarm.began_ms == MIDNIGHT_MS + (SOUND_DAYS + 2) * DAY_MS
    assert (alarm.returned_ms or 0) // DAY_MS == MIDNIGHT_MS // DAY_MS + SOUND_DAYS + WEAK_DAYS + 2
