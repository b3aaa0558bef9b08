"""A place with more sensors than one reads at once: what is in danger first, the rest as one."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from monitor.model import Channel, Quantity, Reading
from monitor.web.app import create_app
from tests.web.desk import (
    HOUR_MS,
    MINUTE_MS,
    NOW_MS,
    SmallDesk,
    failing,
    readings,
    starter_farm,
    steady,
)
from tests.web.visiting import Visitor

SENSORS = 30
WARM = 23
SILENT = 11
ASKED = "/api/series?place=dry-barn&quantity=temperature&since=1+d+ago"
PLACE = """
[[place]]
id = "dry-barn"
name = "Dry barn"
kind = "dry_store"
[place.bands.temperature]
ideal = { low = "2 C", high = "8 C", grade = "farm", source = "made up" }
harm = { low = "0 C", high = "10 C", tolerated = "20 min", grade = "farm", source = "made up" }
"""
SENSOR = """
[[sensor]]
id = "barn-{n}"
place = "dry-barn"
topic = "farm/barn/{n}"
interval = "10 min"
[[sensor.channel]]
quantity = "temperature"
unit = "C"
"""


def told(n: int) -> list[Reading]:
    """Return what a sensor of the barn tells: one warms from an hour ago on, one is dead."""
    course = failing(4.2, 1.0, 7.0) if n == WARM else steady(4.0 + n / 100)
    until_ms = NOW_MS - 6 * HOUR_MS if n == SILENT else NOW_MS
    channel = Channel(f"barn-{n}", Quantity.TEMPERATURE)
    return readings(channel, course, every_ms=10 * MINUTE_MS, until_ms=until_ms)


@pytest.fixture(scope="module")
def barn(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SmallDesk]:
    """Yield a desk whose barn has many sensors, one of them in the warm, one silent for hours."""
    folder: Path = starter_farm(tmp_path_factory.mktemp("barn") / "farm")
    with (folder / "farm.toml").open("a", encoding="utf-8") as file:
        file.write(PLACE + "".join(SENSOR.format(n=n) for n in range(SENSORS)))
    desk = SmallDesk(folder)
    for n in range(SENSORS):
        desk.write(told(n))
    desk.judge()
    yield desk
    desk.close()


@pytest.fixture(scope="module")
def visitor(barn: SmallDesk) -> Visitor:
    """Return a visitor of that desk's pages."""
    return Visitor(create_app(barn))


def _lines(visitor: Visitor, asked: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = visitor.get(asked).json()["lines"]
    return found


def test_every_sensor_has_a_line_unless_fewer_are_asked_for(visitor: Visitor) -> None:
    """A program that asks as before is answered as before."""
    assert [each["sensor"] for each in _lines(visitor, ASKED)] == [
        f"barn-{n}" for n in range(SENSORS)
    ]


def test_what_is_in_danger_has_a_line_and_the_rest_share_one(visitor: Visitor) -> None:
    """The warm one first, then the silent one; the last line spans all others, point by point."""
    *alone, others = _lines(visitor, f"{ASKED}&most=4")
    assert [each["sensor"] for each in alone] == [f"barn-{WARM}", f"barn-{SILENT}", "barn-0"]
    assert (others["sensor"], others["name"]) == (None, "27 others")
    rest = [e for n in range(SENSORS) if n not in {0, WARM, SILENT} for e in told(n)]
    assert len(others["at"]) == 25
    for at_s, low, high, mean in zip(
        *(others[e] for e in ("at", "low", "high", "mean")), strict=True
    ):
        hour = [e.raw for e in rest if 0 <= e.at_ms - at_s * 1000 < HOUR_MS]
        assert (low, high) == (min(hour), max(hour))
        assert mean == pytest.approx(sum(hour) / len(hour))


def test_the_page_asks_for_few_lines(visitor: Visitor) -> None:
    """The chart's script is told how many lines can be told apart."""
    assert 'data-most="4"' in visitor.get("/places/dry-barn").text


def _parts(page: str, fold: str) -> tuple[str, str]:
    """Return what stands open before a fold of a page, and what is folded."""
    before, _, after = page.partition(f'<details class="why" id="{fold}">')
    return before, after.partition("</details>")[0]


def test_many_figures_are_one_row_and_those_out_of_band(visitor: Visitor) -> None:
    """One row spans what is known of all; the warm and the silent one stand open, then a fold."""
    page = visitor.get("/places/dry-barn").text
    opened, folded = _parts(page.partition('id="figures"')[2], "each-figure")
    rows = re.findall(r'<tr><th scope="row">Air <span class="soft">([^<]+)</span>', opened)
    assert rows == ["30 sensors", f"barn-{WARM}", f"barn-{SILENT}"]
    low = min(told(n)[-1].raw for n in range(SENSORS) if n != SILENT)
    # exact definition: °F is °C times 1.8 plus 32; the warm one has 11.2 °C
    assert f"<b>{low * 1.8 + 32:.1f} to 52.2 °F</b>" in opened
    assert "Each of the 30 figures" in folded
    assert folded.count('<tr><th scope="row">') == SENSORS
    assert folded.index(f">barn-{WARM}<") < folded.index(">barn-0<")


def test_many_sensors_that_are_well_are_folded(visitor: Visitor) -> None:
    """A sensor that one has to see to is not looked for among those that are well."""
    page = visitor.get("/places/dry-barn").text
    opened, folded = _parts(page.partition("<h2>Sensors</h2>")[2], "well")
    assert f"<b>barn-{SILENT}</b>" in opened
    well = SENSORS - opened.count("<li")
    assert f"Heard and believed: {well}<" in folded
    assert folded.count("<li") == well >= SENSORS - 2


def test_what_others_told_is_folded_beneath_the_chart(visitor: Visitor) -> None:
    """Three sensors have their words beneath the chart, those that share a line a fold."""
    page = visitor.get("/places/dry-barn").text
    opened, _, rest = page.partition("<summary>27 others</summary>")
    assert opened.count(": lowest ") == 3
    assert rest.partition("</details>")[0].count(": lowest ") == 27


def test_a_place_of_few_sensors_is_open(visitor: Visitor) -> None:
    """Nothing is folded where one reads it all."""
    page = visitor.get("/places/walk-in-cooler").text
    assert "each-figure" not in page
    assert 'id="well"' not in page


def test_the_page_of_sensors_folds_the_well_ones_by_place(visitor: Visitor) -> None:
    """Of many sensors those that one should see to stand open; no sensor is left out."""
    page = visitor.get("/sensors").text
    opened, folded = _parts(page, "well-dry-barn")
    assert f'id="sensor-barn-{SILENT}"' in opened
    assert 'id="sensor-barn-0"' not in opened
    assert f"Dry barn, heard and believed: {folded.count('<li')}<" in folded
    assert page.count('<li class="sensor ') == len(set(re.findall(r'id="sensor-([^"]+)"', page)))
    assert {f"barn-{n}" for n in range(SENSORS)} <= set(re.findall(r'id="sensor-([^"]+)"', page))
