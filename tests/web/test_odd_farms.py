"""Farms that no example shows: empty, huge, oddly named, with figures that are none."""

import math
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from monitor.batches.counts import Count
from monitor.batches.rules import Start, add, move
from monitor.farm import Calibration
from monitor.watch.state import Shown
from monitor.web.app import create_app
from tests.web.desk import COOLER, NOW_MS, SmallDesk, furnished, writing
from tests.web.odd_farms import LONG, MARKUP, desk_in, place
from tests.web.visiting import Visitor


@pytest.fixture
def desk_of(tmp_path: Path) -> Iterator[Callable[[str], SmallDesk]]:
    """Return how to make a desk of a farm whose places are given."""
    made: list[SmallDesk] = []

    def make(places: str, crops: str = "") -> SmallDesk:
        made.append(desk_in(tmp_path, places, crops))
        return made[-1]

    yield make
    for each in made:
        each.close()


def test_a_farm_without_places_has_all_its_pages(desk_of: Callable[[str], SmallDesk]) -> None:
    """With no place, no sensor and no batch every page says that there is none."""
    visitor = Visitor(create_app(desk_of("")))
    assert "No places yet" in visitor.get("/").text
    assert "No sensors yet" in visitor.get("/sensors").text
    assert "No batch is here" in visitor.get("/batches").text
    for path in ("/alarms", "/help", "/metrics", "/api/places", "/api/batches", "/api/alarms"):
        assert visitor.get(path).status_code == 200


def test_a_place_without_a_sensor_says_it_is_not_watched(
    desk_of: Callable[[str], SmallDesk],
) -> None:
    """It is not known, and the page says why."""
    visitor = Visitor(create_app(desk_of(place(1, "Bare", heard=False))))
    assert "no sensor hangs here" in visitor.get("/").text
    assert "this place is not watched" in visitor.get("/places/p1").text


def test_two_hundred_places_fit_one_page(desk_of: Callable[[str], SmallDesk]) -> None:
    """All are there, none is called good, and the page stays under a megabyte."""
    places = "".join(place(number, f"Tunnel {number}", heard=True) for number in range(200))
    page = Visitor(create_app(desk_of(places))).get("/").text
    assert page.count('<article class="place unknown') == 200
    assert len(page) < 1_000_000


@pytest.mark.parametrize("name", [MARKUP, LONG.strip()])
def test_names_are_only_text(desk_of: Callable[[str], SmallDesk], name: str) -> None:
    """Markup in a name is shown, not run, and a name of 300 characters is carried whole."""
    desk = desk_of(place(1, name, heard=True))
    start = Start(
        crop=name, cultivar=name, place="p1", stage="bud", unit="plants", count=Count(5),
        supplier=name, lot=name, note=name,
    )  # fmt: skip
    desk.record(add(start, replace(writing(1.0), by=name)))
    desk.judge()
    visitor = Visitor(create_app(desk))
    for path in ("/", "/places/p1", "/batches", "/batches/1", "/sensors"):
        page = visitor.get(path).text
        assert "<script>alert" not in page
        assert (
            name.replace("&", "&amp;")
            .replace("<", "&lt;")
            .replace(">", "&gt;")
            .replace('"', "&#34;")
            .replace("'", "&#39;")
            in page
        )
    assert visitor.get("/api/places").json()[0]["name"] == name


def test_a_batch_of_two_hundred_stays_has_a_page(desk_of: Callable[[str], SmallDesk]) -> None:
    """A batch that was carried to and fro tells its life and its record."""
    desk = desk_of(place(1, "One", heard=True) + place(2, "Two", heard=True))
    start = Start(crop="x", cultivar="", place="p1", stage="bud", unit="plants", count=Count(5))
    desk.record(add(start, writing(100.0)))
    for number in range(200):
        to = "p2" if number % 2 == 0 else "p1"
        desk.record(move(1, writing(100.0 - (number + 1) * 0.4), place=to))
    desk.judge()
    visitor = Visitor(create_app(desk))
    page = visitor.get("/batches/1")
    assert page.status_code == 200
    assert page.text.count("moved to") == 200
    assert len(visitor.get("/api/batches/1").json()["stays"]) == 201


@pytest.mark.parametrize("figure", [math.inf, -math.inf, math.nan])
def test_a_figure_that_is_none_takes_down_no_page(tmp_path: Path, figure: float) -> None:
    """An infinite value, or NaN, is a dash on pages, null with a flag in JSON, no metric."""
    with closing(furnished(tmp_path / "farm")) as desk:
        track = desk.watch().tracks[COOLER]
        odd = replace(track, shown=Shown(NOW_MS, figure, trusted=True))
        desk._watch = replace(desk.watch(), tracks={**desk.watch().tracks, COOLER: odd})
        visitor = Visitor(create_app(desk))
        for path in ("/", "/places/walk-in-cooler", "/alarms", "/sensors", "/batches/2"):
            page = visitor.get(path)
            assert page.status_code == 200
            assert "nan" not in page.text.replace("nance", "")
            assert "inf" not in page.text
        told = {each["id"]: each for each in visitor.get("/api/places").json()}
        current = told["walk-in-cooler"]["current"]["temperature"]
        assert current["value"] is None
        assert current["not_finite"] == ["value"]
        assert 'sensor="cooler-door-side"} nan' not in visitor.get("/metrics").text


def test_a_calibration_that_overflows_leaves_the_chart_standing(tmp_path: Path) -> None:
    """Values that calibrate to no finite figure are left out of a line and counted."""
    with closing(furnished(tmp_path / "farm")) as desk:
        sensor = desk.farm().sensors["cooler-door-side"]
        spec = replace(sensor.channels[0], calibrations=(Calibration(0, 0.0, slope=math.inf),))
        odd = replace(sensor, channels=(spec, *sensor.channels[1:]))
        desk._farm = replace(desk.farm(), sensors={**desk.farm().sensors, sensor.id: odd})
        visitor = Visitor(create_app(desk))
        told = visitor.get("/api/series?place=walk-in-cooler&quantity=temperature").json()
        assert told["lines"][0]["at"] == []
        assert told["lines"][0]["dropped"] > 100
        assert told["lines"][1]["at"]
        for path in ("/", "/places/walk-in-cooler", "/batches/2"):
            assert visitor.get(path).status_code == 200
