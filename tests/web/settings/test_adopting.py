"""A topic that nobody claims becomes a sensor by a form without a script."""

import pytest

from monitor.farm import load
from monitor.farm.editing import remove_sensor
from monitor.intake.discovery import guess, words
from monitor.model import Quantity
from monitor.store import Commit, UnclaimedTopic
from tests.web.desk import MINUTE_MS, NOW_MS, SmallDesk
from tests.web.settings.forms import filled, forms
from tests.web.visiting import Visitor

SAID = b'{"t": 51.2, "h": 88}'
TOPIC = "barn/dry-store/rack"


def speak(desk: SmallDesk, topic: str = TOPIC, said: bytes = SAID, count: int = 11) -> None:
    """Keep a topic as the intake does: heard once a minute."""
    first_ms = NOW_MS - (count - 1) * MINUTE_MS
    heard = UnclaimedTopic(topic, first_ms, NOW_MS, count, said, words(guess(topic, said)))
    desk.store.commit(Commit(readings=(), unclaimed=[heard]))


def test_one_press_takes_a_topic_whose_guess_is_right(
    own_desk: SmallDesk, own_visitor: Visitor
) -> None:
    """The sensors page has a form with place, interval and channels filled in."""
    speak(own_desk)
    (fields,) = forms(own_visitor.get("/sensors").text, "/topics")
    answer = own_visitor.post("/topics", data=fields | {"by": "Wren"})
    assert answer.status_code == 303
    sensor = load(own_desk.folder).sensors["dry-store-rack"]
    assert (sensor.topic, sensor.place, sensor.interval_s) == (TOPIC, "dry-store", 60.0)
    assert [(e.quantity.value, e.path, e.unit) for e in sensor.channels] == [
        ("temperature", "t", "F"), ("humidity", "h", "%"),
    ]  # fmt: skip
    page = own_visitor.get(answer.headers["location"]).text
    assert "Saved." in page
    assert TOPIC not in own_visitor.get("/sensors").text.partition("nobody's")[2]
    newest = own_desk.ledger.configurations()[-1]
    assert newest.by == "Wren: sensor Dry store rack added"


def test_a_wrong_guess_is_corrected(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """Another unit, a quantity left out, another name: as they are chosen."""
    speak(own_desk)
    fields = filled(
        own_visitor, f"/topics?topic={TOPIC}", "/topics", by="Wren", name="Top shelf",
        unit__0="C", quantity__1="", hangs="by the lamp", gateway="Barn box",
    )  # fmt: skip
    assert own_visitor.post("/topics", data=fields).status_code == 303
    sensor = load(own_desk.folder).sensors["top-shelf"]
    assert [(e.quantity, e.unit) for e in sensor.channels] == [(Quantity.TEMPERATURE, "C")]
    assert (sensor.hangs, sensor.gateway) == ("by the lamp", "barn-box")


def test_what_could_not_be_guessed_is_typed(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """A topic heard once with a bare figure is taken with one channel chosen by hand."""
    speak(own_desk, "x/17", b"4.5", count=1)
    fields = filled(
        own_visitor, "/topics?topic=x/17", "/topics", by="Wren", name="Soil, bed 2",
        place="tunnel-1", every="5 min", quantity__0="soil_temperature", unit__0="C",
    )  # fmt: skip
    assert own_visitor.post("/topics", data=fields).status_code == 303
    (channel,) = load(own_desk.folder).sensors["soil-bed-2"].channels
    assert (channel.quantity, channel.path, channel.unit) == (Quantity.SOIL_TEMPERATURE, None, "C")


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"place": ""}, "Choose the place where it hangs."),
        ({"place": "moon"}, "Choose the place where it hangs."),
        ({"name": " "}, "Give it a name"),
        ({"name": "x" * 300}, "At most 60 letters, please: this has 300."),
        ({"every": "often"}, "is no length of time"),
        ({"unit__0": "%"}, "a temperature is in °F, °C or K: choose one"),
        ({"unit__1": "F"}, "that is in %: choose it"),
        ({"quantity__1": "temperature", "unit__1": "F"}, "that is there twice"),
        ({"quantity__0": "", "quantity__1": ""}, "at least one thing"),
        ({"by": ""}, "Your name, please"),
    ],
)
def test_a_mistake_is_said_beside_its_field_and_what_was_typed_stays(
    own_desk: SmallDesk, own_visitor: Visitor, wrong: dict[str, str], said: str
) -> None:
    """Nothing is written, and the page shows the form as it was sent."""
    speak(own_desk)
    before = load(own_desk.folder).digest
    typed = {"by": "Wren", "hangs": "<b>by the lamp</b>"} | wrong
    fields = filled(own_visitor, f"/topics?topic={TOPIC}", "/topics", **typed)
    answer = own_visitor.post("/topics", data=fields)
    assert answer.status_code == 422
    assert said.casefold() in answer.text.casefold()
    assert "&lt;b&gt;by the lamp&lt;/b&gt;" in answer.text
    assert load(own_desk.folder).digest == before


def test_over_someone_elses_change_nothing_is_written(
    own_desk: SmallDesk, own_visitor: Visitor
) -> None:
    """The form carries the farm as it was seen; the second press, after looking, is taken."""
    speak(own_desk)
    fields = filled(own_visitor, f"/topics?topic={TOPIC}", "/topics", by="Wren", name="Shelf")
    file = own_desk.folder / "farm.toml"
    file.write_text(file.read_text(encoding="utf-8") + "\n# by hand\n", encoding="utf-8")
    own_desk.judge()
    answer = own_visitor.post("/topics", data=fields)
    assert answer.status_code == 422
    assert "changed by someone else meanwhile" in answer.text
    (again,) = forms(answer.text, "/topics")
    assert own_visitor.post("/topics", data=again).status_code == 303
    assert "# by hand" in file.read_text(encoding="utf-8")


def test_without_its_key_a_form_does_nothing(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """A form of an earlier run is shown again, to be pressed once more."""
    speak(own_desk)
    fields = filled(own_visitor, f"/topics?topic={TOPIC}", "/topics", by="Wren", form_key="old")
    answer = own_visitor.post("/topics", data=fields)
    assert "press once more" in answer.text
    assert "dry-store-rack" not in load(own_desk.folder).sensors


def test_a_folder_that_cannot_be_written_is_said(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """Where the disk refuses, the page says so and that nothing was changed."""
    speak(own_desk)
    (own_desk.folder / ".changing").mkdir()
    fields = filled(own_visitor, f"/topics?topic={TOPIC}", "/topics", by="Wren")
    answer = own_visitor.post("/topics", data=fields)
    assert answer.status_code == 422
    assert "cannot be written" in answer.text
    assert "nothing was changed" in answer.text


def test_a_topic_is_taken_once(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """A second press, or somebody else's, is told whose it is."""
    speak(own_desk)
    fields = filled(own_visitor, f"/topics?topic={TOPIC}", "/topics", by="Wren")
    assert own_visitor.post("/topics", data=fields).status_code == 303
    fields["digest"] = [load(own_desk.folder).digest]
    answer = own_visitor.post("/topics", data=fields)
    assert "belongs to Dry store rack already" in answer.text


def test_a_farm_of_200_places_offers_them_on_the_topics_own_page(
    own_desk: SmallDesk, own_visitor: Visitor
) -> None:
    """The list of topics stays light, and no place is left out where one is chosen."""
    speak(own_desk)
    file = own_desk.folder / "farm.toml"
    more = "".join(
        f'\n[[place]]\nid = "p{n}"\nname = "Place {n}"\nkind = "field"\n' for n in range(200)
    )
    file.write_text(file.read_text(encoding="utf-8") + more, encoding="utf-8")
    own_desk.judge()
    assert forms(own_visitor.get("/sensors").text, "/topics") == []
    assert own_visitor.get(f"/topics?topic={TOPIC}").text.count('<option value="p') == 200


def test_an_id_is_never_used_again(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """A new sensor of a former one's name gets another id: the old one's history is not its."""
    speak(own_desk)
    for id_ in ("dry-store-rack", "dry-store-rack-2"):
        (fields,) = forms(own_visitor.get("/sensors").text, "/topics")
        answer = own_visitor.post("/topics", data=fields | {"by": "Wren"})
        assert answer.headers["location"].partition("?")[0] == f"/sensors/{id_}"
        own_desk.reconfigure([remove_sensor(id_)], by="Wren", why="gone", digest=None)
        assert id_ not in load(own_desk.folder).sensors
