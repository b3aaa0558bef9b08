"""A place's own page, while the farm changes beneath it."""

from dataclasses import replace

import pytest

from monitor.model import Quantity
from monitor.web.look import Look
from tests.web.desk import SmallDesk
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
