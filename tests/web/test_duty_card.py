"""The card of a place: safety first, the farm's own words, and at hand with each alarm."""

from dataclasses import replace

from monitor import alarms
from monitor.alarms import own_transition
from monitor.farm import Card, Phone
from monitor.model import AlarmKind, Edge
from monitor.web.duty_card import duty_card
from monitor.web.look import Look
from tests.web.desk import SmallDesk
from tests.web.visiting import Visitor

CARD = Card(
    ("Shut the door.", "Ring Alder."), (Phone("Alder, refrigeration", "(555) 013-4"),), "the shed"
)


def test_the_cautions_come_before_the_steps(visitor: Visitor) -> None:
    """On the page nobody reads a step before the caution about a walk-in."""
    text = visitor.get("/places/walk-in-cooler/card").text
    order = [
        text.index(each)
        for each in ("alone without telling someone", "Open it as little", "spare refrigerator")
    ]
    assert order == sorted(order)


def test_a_place_without_a_card_has_the_usual_first_looks(visitor: Visitor) -> None:
    """It shows the looks of its kind and says where the farm writes its own."""
    text = visitor.get("/places/tunnel-1/card").text
    assert "Too cold: close it, and put the covers on." in text
    assert "[place.card]" in text


def test_an_unknown_place_has_no_card(visitor: Visitor) -> None:
    """A place that is not on the farm is not found."""
    assert visitor.get("/places/moon/card").status_code == 404


def test_each_alarm_of_a_place_and_its_page_lead_to_the_card(visitor: Visitor) -> None:
    """From the first page, the alarms and the place itself it is one step."""
    for path in ("/", "/alarms", "/places/walk-in-cooler"):
        assert 'href="/places/walk-in-cooler/card"' in visitor.get(path).text
    assert 'href="/places/tunnel-1/card"' in visitor.get("/places/tunnel-1").text


def test_a_number_is_dialled_without_its_brackets(desk: SmallDesk) -> None:
    """A number is shown as it was written, and dialled by its figures."""
    look = Look.at(desk)
    place = replace(look.farm.places["walk-in-cooler"], card=CARD)
    told = duty_card(look, place)
    assert told.phones == (("Alder, refrigeration", "(555) 013-4", "5550134"),)
    assert (told.own, told.spare) == (True, "the shed")


def test_a_notice_ends_with_whom_to_ring(desk: SmallDesk) -> None:
    """What wakes someone carries the numbers, so that it stands without the page."""
    farm = desk.farm()
    place = replace(farm.places["walk-in-cooler"], card=CARD)
    words = alarms.wording(replace(farm, places={place.id: place}))
    raised = own_transition(AlarmKind.DOOR_OPEN, Edge.RAISE, desk.now)
    told = alarms.say(replace(raised, place=place.id), words, desk.now)
    assert told.text.endswith(" Ring: Alder, refrigeration (555) 013-4.")
