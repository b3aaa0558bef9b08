"""A sensor's own page, and the forms that move, rename or end it."""

from monitor.farm import load
from tests.web.desk import SmallDesk
from tests.web.settings.forms import filled, forms
from tests.web.visiting import Visitor

BACK = "/sensors/cooler-back"


def test_the_page_says_how_the_sensor_is(visitor: Visitor) -> None:
    """Place, when it was heard, its figures, and that it was never checked."""
    page = visitor.get("/sensors/cooler-door-side").text
    for word in ("Walk-in cooler", "heard just now", "Humidity", "Never, by what is written down"):
        assert word in page
    assert visitor.get("/sensors/none").status_code == 404


def test_only_what_was_touched_is_changed(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """A sensor is moved and renamed; its interval keeps the text that stands in the file."""
    before = (own_desk.folder / "farm.toml").read_text(encoding="utf-8")
    fields = filled(
        own_visitor, BACK, BACK, "sensor", by="Wren", name="Dry shelf", place="dry-store",
        gateway="Barn",
    )  # fmt: skip
    assert own_visitor.post(BACK, data=fields).status_code == 303
    sensor = load(own_desk.folder).sensors["cooler-back"]
    assert (sensor.name, sensor.place, sensor.gateway) == ("Dry shelf", "dry-store", "barn")
    after = (own_desk.folder / "farm.toml").read_text(encoding="utf-8")
    assert after.count("interval = ") == before.count("interval = ")
    same = filled(own_visitor, BACK, BACK, "sensor", by="Wren")
    assert "Nothing is different" in own_visitor.post(BACK, data=same).text


def test_two_people_who_change_two_things_lose_neither(
    own_desk: SmallDesk, own_visitor: Visitor
) -> None:
    """The second is refused once, sees it, presses again, and does not undo the first."""
    mine = filled(own_visitor, BACK, BACK, "sensor", by="Wren", hangs="top left")
    theirs = filled(own_visitor, BACK, BACK, "sensor", by="Robin", name="Back wall")
    assert own_visitor.post(BACK, data=theirs).status_code == 303
    refused = own_visitor.post(BACK, data=mine)
    assert "changed by someone else" in refused.text
    again = next(each for each in forms(refused.text, BACK) if each["form"] == ["sensor"])
    assert own_visitor.post(BACK, data=again).status_code == 303
    sensor = load(own_desk.folder).sensors["cooler-back"]
    assert (sensor.name, sensor.hangs) == ("Back wall", "top left")


def test_the_only_sensor_of_a_place_goes_after_a_second_word(
    own_desk: SmallDesk, own_visitor: Visitor
) -> None:
    """First it is said that batches stand unwatched there; the confirmation does it."""
    path = "/sensors/sprouting-shelf"
    fields = filled(own_visitor, path, path, "out", by="Wren", why="broken")
    asked = own_visitor.post(path, data=fields)
    assert asked.status_code == 422
    assert "the only sensor of Sprouting room" in asked.text
    assert "1 of your batches" in asked.text
    assert "sprouting-shelf" in load(own_desk.folder).sensors
    question = asked.text.partition('name="sure" value="')[2].partition('"')[0]
    answer = own_visitor.post(path, data=fields | {"sure": question})
    assert answer.headers["location"].startswith("/sensors")
    assert "sprouting-shelf" not in load(own_desk.folder).sensors


def test_taking_out_needs_a_reason(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """Without one nothing is done, and the field says so."""
    fields = filled(own_visitor, BACK, BACK, "out", by="Wren")
    assert "Say why, please" in own_visitor.post(BACK, data=fields).text
    assert "cooler-back" in load(own_desk.folder).sensors
