"""The benchmarks themselves: that each runs, and that the table tells what was missed.

How fast anything is does not matter here: that hangs on the machine.
"""

from collections import Counter
from pathlib import Path

import pytest

from tests.benchmarks import (
    bench_daemon,
    bench_history,
    bench_replay,
    bench_science,
    bench_store,
    made_farm,
)
from tests.benchmarks.__main__ import QUICK, parts
from tests.benchmarks.table import Row, printed

HALF_DAY_MS = 43_200_000
HERE = Path(__file__).parent
BY_HAND = {"watch", "scale"}  # one is the replay without the store, one takes an hour


def test_the_table_says_what_was_missed() -> None:
    """A number that is not reached stands out; a row to compare with says neither."""
    rows = [
        Row("start", "<= 3 s", "2 s", "1 s", reached=True),
        Row("memory", "<= 9 MB", "12 MB", "7 MB", reached=False),
        Row("series", "", "40 ms", "", reached=None),
    ]
    _, _, start, memory, series = printed(rows).splitlines()
    assert start.split() == ["start", "<=", "3", "s", "2", "s", "1", "s", "reached"]
    assert memory.endswith("NOT REACHED")
    assert series.split() == ["series", "40", "ms"]


def test_every_number_has_its_part() -> None:
    """The one command runs every benchmark there is."""
    written = {each.stem.removeprefix("bench_") for each in HERE.glob("bench_*.py")}
    assert set(parts(QUICK)) == written - BY_HAND


def test_a_large_made_up_farm_has_many_places(tmp_path: Path) -> None:
    """Sensors are spread over places as on a farm, and the lonely one stays alone in its own."""
    farm = made_farm.write(tmp_path, made_farm.Plan(500))
    held = Counter(each.place for each in farm.sensors.values())
    assert held.keys() == farm.places.keys()
    assert len(held) == 25
    assert {held.pop(made_farm.LONELY), *held.values()} == {1, 20, 21}


def test_store_and_science_run() -> None:
    """The store's and the figures' benchmarks measure something, beside their references."""
    rows = [*bench_store.measured(2, 1, HALF_DAY_MS), bench_science.measured(1)]
    assert [row.reached is None for row in rows] == [False] * 3
    assert all(row.measured and row.reference for row in rows)


def test_replay_runs() -> None:
    """A replayed day has a rate, and so has the plain loop over the same readings."""
    row = bench_replay.measured(1, 1)
    assert "readings/s" in row.measured
    assert "readings/s" in row.reference


@pytest.mark.system
def test_a_daemon_is_measured() -> None:
    """Start, memory and processor of a real daemon are read from the system."""
    start, memory, processor, *_ = bench_daemon.measured(1, 1.0, 1)
    assert start.reached is not None
    assert "MB (at most" in memory.measured
    assert processor.measured.endswith("over 1 s")


@pytest.mark.system
def test_history_is_measured_beside_real_servers() -> None:
    """Each question has an answer from our store and from both servers."""
    rows = bench_history.measured(1)
    assert [row.reached is None for row in rows] == [False] * 3
    assert all("(of 28,800 readings)" in row.what for row in rows)
