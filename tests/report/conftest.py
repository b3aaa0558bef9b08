"""A made-up farm of a season, shared by the tests of reports that only read it."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from monitor.batches.rules import Seen
from tests.report.made import AIR, Made, days_ago, f, rooms, steady


@dataclass(frozen=True)
class Season:
    """A farm with an earlier batch, its stems, a rooted one, a young one, a batch in the dark.

    ``dark`` stands in the dry store, whose sensor has never been heard.
    """

    made: Made
    earlier: int
    stems: int
    rooted: int
    young: int
    dark: int


@pytest.fixture(scope="session")
def season(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Season]:
    """Return a farm whose batches' verdicts differ for stated reasons."""
    made = Made(tmp_path_factory.mktemp("farm"))
    rooms(made, 40, [(35, 3, f(54))])
    made.record("cooler-back", AIR, days_ago(3), days_ago(0), steady(f(38.9)), step_s=120)
    earlier = made.corms(39, rotten=12)
    made.roots(earlier, 30, 12)
    made.roots(earlier, 29, 22)
    made.plant(earlier, 28)
    made.plant(earlier, 15, "bloom")
    stems = made.cut(earlier, 2, 220, 2.06)
    made.cull(stems, 1, 12)
    rooted = made.corms(11, rotten=5)
    made.see(rooted, 5, Seen(all_fine=True, moisture="moist"))
    made.roots(rooted, 3, 9)
    made.roots(rooted, 1, 22)
    young = made.corms(4, cultivar="Ember Red", supplier="Hill Corms")
    dark = made.corms(2, cultivar="Pale Wren", stage="dry_store", place="dry-store")
    yield Season(made, earlier, stems, rooted, young, dark)
    made.close()


@pytest.fixture
def made(tmp_path: Path) -> Iterator[Made]:
    """Return an empty made-up farm."""
    farm = Made(tmp_path)
    yield farm
    farm.close()
