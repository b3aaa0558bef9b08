"""A sensor checked in ice water by a form without a script."""

from datetime import date, datetime
from html import unescape

import numpy as np
import pytest

from monitor.farm import load
from monitor.farm.editing import add_calibration, save
from monitor.model import Channel, Quantity
from monitor.web.look import Look
from monitor.web.settings.ice import due
from tests.web.desk import NOW_MS, SmallDesk, readings
from tests.web.settings.forms import filled
from tests.web.settings.test_places import sure
from tests.web.visiting import Visitor

# A sensor of its own that nothing has been stored of yet.
PATH = "/sensors/dry-store-shelf/ice"
SHELF = Channel("dry-store-shelf", Quantity.TEMPERATURE)


def bath(desk: SmallDesk, *last_c: float, hours: float = 0.5) -> None:
    """Store readings every two minutes, the last of them as given."""
    desk.write(readings(SHELF, lambda back: np.resize(np.array(last_c), back.size), hours=hours))


def test_a_steady_sensor_is_corrected_by_its_error(
    own_desk: SmallDesk, own_visitor: Visitor
) -> None:
    """It reads 0.4 °C in ice: the proposal is the opposite, in °F, kept with date and name."""
    bath(own_desk, 0.4)
    page = unescape(own_visitor.get(PATH).text)
    assert "Steady: " in page
    fields = filled(own_visitor, PATH, PATH, "temperature", by="Wren")
    assert fields["offset"] == ["-0.7 °F"]  # 0.4 K times 1.8, to a tenth
    assert own_visitor.post(PATH, data=fields).status_code == 303
    (found,) = load(own_desk.folder).sensors["dry-store-shelf"].channels[0].calibrations
    assert found.offset == pytest.approx(-0.7 / 1.8)
    assert found.note == "ice water, by Wren"
    zone = own_desk.farm().zone
    assert datetime.fromtimestamp(found.since_ms / 1000, zone).date() == date(2026, 11, 25)
    page = own_visitor.get("/sensors/dry-store-shelf").text
    assert "Air -0.7 °F" in page
    assert "since 25 November 2026: ice water, by Wren" in page


def test_a_second_check_measures_the_sensor_and_not_its_correction(
    own_desk: SmallDesk, own_visitor: Visitor
) -> None:
    """The proposal is from what was read; the same day's check is replaced, its slope kept."""
    twice = add_calibration(
        "dry-store-shelf", Quantity.TEMPERATURE, date(2026, 11, 25), "3 F", "by hand", slope=1.01
    )
    save(own_desk.folder, [twice])
    own_desk.judge()
    bath(own_desk, 0.5)
    fields = filled(own_visitor, PATH, PATH, "temperature", by="Wren")
    assert fields["offset"] == ["-0.9 °F"]
    assert own_visitor.post(PATH, data=fields).status_code == 303
    (found,) = load(own_desk.folder).sensors["dry-store-shelf"].channels[0].calibrations
    assert found.offset == pytest.approx(-0.5)
    assert found.slope == pytest.approx(1.01)


def test_more_than_two_degrees_is_asked_for_once_more(
    own_desk: SmallDesk, own_visitor: Visitor
) -> None:
    """2.5 K of error: nothing is written before it is confirmed."""
    bath(own_desk, 2.5)
    fields = filled(own_visitor, PATH, PATH, "temperature", by="Wren")
    asked = own_visitor.post(PATH, data=fields)
    assert asked.status_code == 422
    assert "4.5 °F is much for a sound sensor" in asked.text
    assert load(own_desk.folder).sensors["dry-store-shelf"].channels[0].calibrations == ()
    assert own_visitor.post(PATH, data=fields | {"sure": sure(asked.text)}).status_code == 303


@pytest.mark.parametrize(
    ("last_c", "typed", "said"),
    [
        ((3.0, 0.0), {"offset": "0.1"}, "not steady yet"),
        ((20.0,), {"offset": "-36 F"}, "in no ice water"),
        ((0.1,), {"offset": "much"}, "is no difference"),
        ((0.1,), {"offset": ""}, "by how much"),
        ((0.1,), {"by": ""}, "your name"),
    ],
)
def test_what_cannot_be_so_is_said(
    own_desk: SmallDesk,
    own_visitor: Visitor,
    last_c: tuple[float, ...],
    typed: dict[str, str],
    said: str,
) -> None:
    """Not steady, no ice, no figure, no name: nothing is written."""
    bath(own_desk, *last_c)
    fields = filled(own_visitor, PATH, PATH, "temperature", **({"by": "Wren"} | typed))
    answer = own_visitor.post(PATH, data=fields)
    assert answer.status_code == 422
    assert said.casefold() in unescape(answer.text).casefold()
    assert load(own_desk.folder).sensors["dry-store-shelf"].channels[0].calibrations == ()


def test_a_sensor_that_says_nothing_proposes_nothing(visitor: Visitor) -> None:
    """With no reading of now, or far from freezing, the field is empty and the page says so."""
    page = visitor.get(PATH).text
    assert "Nothing was heard in the last minutes" in page
    assert filled(visitor, PATH, PATH, "temperature")["offset"] == [""]
    warming = "/sensors/cooler-door-side/ice"
    assert "That is no ice water" in unescape(visitor.get(warming).text)
    assert filled(visitor, warming, warming, "temperature")["offset"] == [""]


@pytest.mark.parametrize(
    ("since", "said"),
    [
        (date(2026, 2, 1), ""), (date(2025, 11, 26), ""),
        (date(2025, 11, 24), "Last checked November 2025: check it again"),
    ],
)  # fmt: skip
def test_a_check_is_due_after_a_year(own_desk: SmallDesk, since: date, said: str) -> None:
    """Quiet within a year of the last; a reminder after it."""
    save(
        own_desk.folder,
        [add_calibration("dry-store-shelf", Quantity.TEMPERATURE, since, "0.1 F", "")],
    )
    own_desk.judge()
    farm = own_desk.farm()
    assert due(farm, farm.sensors["dry-store-shelf"], NOW_MS) == said


def test_the_sensors_page_reminds_quietly(desk: SmallDesk, visitor: Visitor) -> None:
    """What was never checked is a line by the sensor that leads to the steps."""
    assert Look.at(desk).farm.sensors
    page = visitor.get("/sensors").text
    assert f'<a href="{PATH}">Not checked in ice water yet</a>' in page
