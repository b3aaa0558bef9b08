"""What a place's chart is drawn from: lines beside the air, and what happened meanwhile."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import psychrolib
import pytest

from monitor.batches.loading import load
from monitor.model import Channel, Quantity
from tests.web.desk import DAY_MS, HOUR_MS, NOW_MS, SmallDesk, readings, starter_farm, steady
from tests.web.visiting import Visitor

DOOR = Channel("cooler-door", Quantity.DOOR)
ASKED = "/api/series?place=walk-in-cooler&quantity=temperature&since=1+d+ago"


def _numbers(values: list[float | None]) -> np.ndarray:
    return np.array([np.nan if each is None else each for each in values], dtype=np.float64)


def test_what_is_kept_follows_its_air_slowly(visitor: Visitor) -> None:
    """In a cooler that fails the flowers' line lies below the air's, and rises with it."""
    line = visitor.get(ASKED).json()["lines"][0]
    air, kept = _numbers(line["mean"]), _numbers(line["contents"]["value"])
    assert line["contents"]["at"] == line["at"]
    assert kept[-1] < air[-1] - 0.5
    assert kept[-1] > kept[-60] + 0.5


def test_the_dew_point_is_that_of_the_air_and_its_humidity(visitor: Visitor) -> None:
    """Each point agrees with PsychroLib's dew point of the same air within its rounding."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    line = visitor.get(ASKED).json()["lines"][0]
    humidity = visitor.get(ASKED.replace("temperature", "humidity")).json()["lines"][0]
    assert line["at"] == humidity["at"]
    expected = [
        psychrolib.GetTDewPointFromRelHum(air, damp / 100.0)
        for air, damp in zip(line["mean"][:50], humidity["mean"][:50], strict=True)
    ]
    assert line["dew_point"]["value"][:50] == pytest.approx(expected, abs=0.05)


def test_without_humidity_there_is_no_dew_point(visitor: Visitor) -> None:
    """A sensor of temperature alone tells none, and a soil has neither line."""
    back = next(
        each for each in visitor.get(ASKED).json()["lines"] if each["sensor"] == "cooler-back"
    )
    assert back["dew_point"] is None
    soil = visitor.get("/api/series?place=tunnel-2&quantity=soil_temperature").json()["lines"][0]
    assert "contents" not in soil


def test_a_year_shows_no_lag(visitor: Visitor) -> None:
    """Where points stand further apart than the lag, what is kept is the air."""
    line = visitor.get(ASKED.replace("1+d", "365+d")).json()["lines"][0]
    assert line["contents"] is None


def test_an_alarm_is_marked_with_its_page(visitor: Visitor) -> None:
    """The alarm of this quantity is there with its number; of another quantity it is not."""
    (mark,) = visitor.get(ASKED).json()["marks"]
    assert (mark["kind"], mark["text"], mark["until_ms"]) == (
        "alarm", "Walk-in cooler was too warm", None,
    )  # fmt: skip
    assert visitor.get(f"/alarms/{mark['alarm']}").status_code == 200
    assert visitor.get(ASKED.replace("temperature", "humidity")).json()["marks"] == []
    assert "Walk-in cooler was too warm" in visitor.get("/places/walk-in-cooler").text


@pytest.fixture
def own_door(tmp_path: Path) -> SmallDesk:
    """Return a desk whose cooler has a switch at its door, and was loaded."""
    folder = starter_farm(tmp_path / "farm")
    with (folder / "farm.toml").open("a", encoding="utf-8") as file:
        file.write(
            '\n[[sensor]]\nid = "cooler-door"\nplace = "walk-in-cooler"\ntopic = "farm/door"\n'
            'interval = "5 min"\n[[sensor.channel]]\nquantity = "door"\n'
        )
    desk = SmallDesk(folder)
    desk.write(readings(Channel("cooler-back", Quantity.TEMPERATURE), steady(3.3)))
    desk.write(readings(DOOR, lambda hours: ((hours > -5) & (hours < -4.8)).astype(float)))
    desk.record(load("walk-in-cooler", NOW_MS - HOUR_MS, "Wren", NOW_MS - 2 * HOUR_MS))
    desk.judge()
    return desk


def test_doors_and_loadings_are_marked(own_door: SmallDesk) -> None:
    """An open door and a loading are told with when they began and ended, in order."""
    from monitor.web.app import create_app  # noqa: PLC0415 - one visitor of its own

    marks = Visitor(create_app(own_door)).get(ASKED).json()["marks"]
    assert [each["kind"] for each in marks] == ["door", "loading"]
    door, loading = marks
    assert NOW_MS - 5 * HOUR_MS < door["from_ms"] < door["until_ms"] < NOW_MS - 4.7 * HOUR_MS
    assert (loading["from_ms"], loading["until_ms"]) == (NOW_MS - 2 * HOUR_MS, NOW_MS - HOUR_MS)
    own_door.close()


def test_doors_are_told_for_a_week_at_most(own_door: SmallDesk) -> None:
    """Over a month doors would be a blur: only what lasts is told."""
    from monitor.web.app import create_app  # noqa: PLC0415 - one visitor of its own

    month = ASKED.replace("1+d", f"{30 * DAY_MS // DAY_MS}+d")
    marks = Visitor(create_app(own_door)).get(month).json()["marks"]
    assert [each["kind"] for each in marks] == ["loading"]
    own_door.close()


@pytest.mark.parametrize(("span", "days"), [("3y", 1096), ("10y", 3653)])
def test_years_keep_their_extremes(years: SmallDesk, span: str, days: int) -> None:
    """One frozen hour and one hot hour of three years are in what is drawn, and in its words."""
    from monitor.web.app import create_app  # noqa: PLC0415 - one visitor of its own

    visitor = Visitor(create_app(years))
    asked = f"/api/series?place=walk-in-cooler&quantity=temperature&since={days}+d+ago&points=500"
    line = next(e for e in visitor.get(asked).json()["lines"] if e["sensor"] == "cooler-back")
    assert min(e for e in line["low"] if e is not None) == -7.5
    assert max(e for e in line["high"] if e is not None) == 21.5
    assert 200 < len(line["at"]) <= 750
    page = visitor.get(f"/places/walk-in-cooler?span={span}&show=temperature").text
    assert "lowest 18.5 °F, highest 70.7 °F, now 37.9 °F" in page  # by hand: C times 1.8 plus 32
    assert "lowest 37." in visitor.get("/places/walk-in-cooler?span=1y").text


@pytest.fixture(scope="module")
def years(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SmallDesk]:
    """Yield a desk with three years of a cooler, a reading an hour, two of them far out."""

    def course(hours: np.ndarray) -> np.ndarray:
        values = np.full(hours.shape, 3.3)
        values[np.argmin(np.abs(hours + 900.5 * 24))] = -7.5
        values[np.argmin(np.abs(hours + 700.25 * 24))] = 21.5
        return values

    desk = SmallDesk(starter_farm(tmp_path_factory.mktemp("years") / "farm"))
    back = Channel("cooler-back", Quantity.TEMPERATURE)
    desk.write(readings(back, course, hours=1090 * 24, every_ms=HOUR_MS))
    desk.judge()
    yield desk
    desk.close()
