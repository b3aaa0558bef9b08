"""A place's own page, while the farm changes beneath it."""

from dataclasses import replace

import pytest

from monitor.model import Channel, Quantity
from monitor.store import ReadingReader, Series
from monitor.web.look import Look
from monitor.web.place_page import extremes
from tests.web.desk import COOLER, HOUR_MS, MINUTE_MS, NOW_MS, SmallDesk
from tests.web.visiting import Visitor


def test_a_place_is_judged_once_a_look(desk: SmallDesk) -> None:
    """However often a page asks how a place stands, it is one answer, of one moment."""
    look = Look.at(desk)
    assert look.status("walk-in-cooler") is look.status("walk-in-cooler")
    assert Look.at(desk).status("walk-in-cooler") is not look.status("walk-in-cooler")


def test_a_channel_taken_from_its_sensor_breaks_no_page(
    own_desk: SmallDesk, own_visitor: Visitor, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Until the watch has followed, its last figure stands there, without a day of its own."""
    farm = own_desk.farm()
    sensor = farm.sensors["cooler-door-side"]
    kept = tuple(each for each in sensor.channels if each.quantity is not Quantity.HUMIDITY)
    sensors = {**farm.sensors, sensor.id: replace(sensor, channels=kept)}
    monkeypatch.setattr(own_desk, "farm", lambda: replace(farm, sensors=sensors))
    page = own_visitor.get("/places/walk-in-cooler")
    assert page.status_code == 200
    assert "Humidity" in page.text


@pytest.mark.parametrize("minutes", [0, 17, 30])
def test_a_spans_extremes_are_its_own(desk: SmallDesk, minutes: int) -> None:
    """Whatever minute a span begins at, they are those of the readings within it."""
    look, sensor = Look.at(desk), desk.farm().sensors[COOLER.sensor]
    for hours in (0, 1, 5, 23):
        span = (NOW_MS - hours * HOUR_MS - minutes * MINUTE_MS, NOW_MS + 1)
        read = desk.reader().series(COOLER, *span)
        found = extremes(look, sensor, COOLER.quantity, span)
        assert found == pytest.approx((read.raw.min(), read.raw.max()))
    assert extremes(look, sensor, COOLER.quantity, (NOW_MS + 1, NOW_MS + HOUR_MS)) is None


def test_a_days_extremes_read_an_hour_at_most(
    desk: SmallDesk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """All but a broken first hour is known by summaries, so that many sensors cost little."""
    rows: list[int] = []
    series = ReadingReader.series

    def counted(self: ReadingReader, channel: Channel, since_ms: int, until_ms: int) -> Series:
        found = series(self, channel, since_ms, until_ms)
        rows.append(len(found.at_ms))
        return found

    monkeypatch.setattr(ReadingReader, "series", counted)
    look, sensor = Look.at(desk), desk.farm().sensors[COOLER.sensor]
    span = (NOW_MS - 20 * HOUR_MS - 17 * MINUTE_MS, NOW_MS + 1)
    assert extremes(look, sensor, COOLER.quantity, span) is not None
    assert 0 < sum(rows) <= 60
