"""Sensors that belong to nobody yet."""

from dataclasses import replace
from pathlib import Path

import pytest

from monitor.daemon.finding import Found, merged, remembered
from monitor.farm import load
from monitor.farm.starting import Start, write_starter
from monitor.intake import Guess
from monitor.model import Quantity
from monitor.store import Commit, ReadingStore, UnclaimedTopic

START_MS = 1_795_600_000_000
TOPIC = UnclaimedTopic("farm/cellar", START_MS, START_MS + 610_000, 11, b"4.1", "value: battery %")


@pytest.mark.parametrize(
    ("count", "lasted_s", "said_s"), [(11, 610, 60), (2, 9, 10), (61, 1800, 30), (1, 0, None)]
)
def test_how_often_it_speaks_is_said_roundly(count: int, lasted_s: int, said_s: int | None) -> None:
    """The mean time between its words, as one would write it down; one word tells nothing."""
    found = Found("t", START_MS, START_MS + lasted_s * 1000, count, b"", ())
    assert found.interval_s == said_s


def test_what_was_heard_now_comes_first() -> None:
    """A topic heard now and before is said once, as it is now."""
    now = [Found("a", 0, 9, 2, b"new", ())]
    before = [Found("a", 0, 1, 5, b"old", ()), Found("b", 0, 1, 5, b"", ())]
    assert merged(now, before) == [now[0], before[1]]


def test_what_a_sensor_claims_by_now_is_left_out(tmp_path: Path) -> None:
    """The monitor's memory is told with its guess, without what became a sensor since."""
    write_starter(tmp_path / "farm", Start(), {})
    farm = load(tmp_path / "farm")
    farm.data_dir.mkdir()
    store = ReadingStore.open(farm.data_dir / "readings.db")
    claimed = replace(TOPIC, topic=next(iter(farm.sensors.values())).topic)
    store.commit(Commit(unclaimed=[TOPIC, claimed]))
    store.close()
    (found,) = remembered(farm)
    assert found.topic == "farm/cellar"
    assert found.guesses == (Guess(None, Quantity.BATTERY, "%"),)
