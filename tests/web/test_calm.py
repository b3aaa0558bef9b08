"""The line where no alarm is open: calm only where something is known."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.model import Channel, PlaceState, Quantity
from monitor.web.alarm_boxes import sorted_out
from monitor.web.app import create_app
from monitor.web.calm import calm
from monitor.web.look import Look
from tests.web.desk import DAY_MS, NOW_MS, SmallDesk, readings, starter_farm, steady
from tests.web.visiting import Visitor


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[SmallDesk]:
    """Yield the starter farm's desk, to which nothing has spoken."""
    desk = SmallDesk(starter_farm(tmp_path / "farm"))
    yield desk
    desk.close()


def _calm(desk: SmallDesk, path: str) -> str:
    page = Visitor(create_app(desk)).get(path).text
    return page.partition('<p class="calm')[2].partition("</p>")[0]


@pytest.mark.parametrize("path", ["/", "/alarms"])
def test_a_farm_that_nothing_spoke_to_is_not_calm(empty: SmallDesk, path: str) -> None:
    """Where no place is known no green word stands over them."""
    told = _calm(empty, path)
    assert told.startswith(" unknown")
    assert told.endswith("Nothing is heard yet: no place is known.")


def test_a_farm_that_fell_silent_is_not_calm(empty: SmallDesk) -> None:
    """Readings of two days ago make no place known."""
    channel = Channel("cooler-back", Quantity.TEMPERATURE)
    empty.write(readings(channel, steady(3.3), hours=1.0, until_ms=NOW_MS - 2 * DAY_MS))
    empty.judge()
    shown = Look.at(empty)
    states = {shown.status(each).state for each in shown.farm.places}
    assert states == {PlaceState.UNKNOWN}
    assert calm(shown, sorted_out([])).word == "Nothing is heard now: no place is known."


def test_one_known_place_without_an_alarm_is_calm(empty: SmallDesk) -> None:
    """As soon as something is known, that no alarm is open says something."""
    channel = Channel("cooler-back", Quantity.TEMPERATURE)
    empty.write(readings(channel, steady(3.3), hours=1.0))
    empty.judge()
    told = _calm(empty, "/")
    assert told.startswith(" in_band")
    assert told.endswith("No alarm is open.")
