"""Checks that look further than one table: across entries, files and the disk."""

from collections.abc import Iterator
from pathlib import Path

from monitor.farm.checks import crops, people, places, sensors, site
from monitor.farm.problem import Problem
from monitor.farm.sheets import Sheets


def all_problems(sheets: Sheets, directory: Path, now_ms: int) -> Iterator[Problem]:
    """Yield what is wrong or doubtful beyond the form of each table."""
    yield from site.problems(sheets, directory)
    yield from places.problems(sheets)
    yield from sensors.problems(sheets, now_ms)
    yield from crops.problems(sheets)
    yield from people.problems(sheets)
