"""The card of a place for whoever is on duty: cautions first, then what to do, whom to ring."""

from dataclasses import dataclass
from typing import Final

from fastapi import APIRouter, Response
from fastapi.responses import HTMLResponse

from monitor.alarms import first_look
from monitor.errors import UnknownNameError
from monitor.farm import Place
from monitor.model import AlarmKind, PlaceKind
from monitor.phrase import Phrase
from monitor.web.look import Look
from monitor.web.rendering import Here

_ANYWHERE: Final = (
    Phrase("Nobody gets hurt for flowers. Tell someone where you go and when you will "
"be back."),
    Phrase("Reset a breaker once at most, never with wet hands or a wet panel."),
    Phrase("Electrical and refrigeration work belongs to licensed people."),
    Phrase("No generator, heater or engine indoors that is not made for it: carbon "
"monoxide."),
)  # fmt: skip
_BY_KIND: Final = {
    PlaceKind.COOLER: (
        Phrase("Nobody goes into a walk-in alone without telling someone."),
        Phrase("Its door must open from inside."),
        Phrase("Dry ice and leaking refrigerant can suffocate: air the room, and stay out."),
    ),
    PlaceKind.TUNNEL: (Phrase("Not under it, and not on it, in a storm or under heavy snow."),),
}  # fmt: skip
_ASKED: Final = (
    (AlarmKind.TOO_WARM, Phrase("Too warm")),
    (AlarmKind.TOO_COLD, Phrase("Too cold")),
    (AlarmKind.SENSOR_SILENT, Phrase("A sensor is silent")),
)

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)


@dataclass(frozen=True, slots=True)
class DutyCard:
    """A card ready to be written down; ``own`` where the farm has written it."""

    place: str
    place_id: str
    cautions: tuple[str, ...]
    steps: tuple[str, ...]
    phones: tuple[tuple[str, str, str], ...]
    spare: str
    own: bool
    holds: str


@router.get("/places/{place_id}/card")
def card_page(pages: Here, place_id: str) -> Response:
    """Show what whoever is on duty does at a place; made to be printed."""
    look = pages.look()
    if place_id not in look.farm.places:
        raise UnknownNameError(Phrase("There is no such place on this farm now."))
    place = look.farm.places[place_id]
    return pages.page(look, "card.html", f"/places/{place_id}/card", duty=duty_card(look, place))


def duty_card(look: Look, place: Place) -> DutyCard:
    """Return a place's card: the farm's own words, else the first looks of its kind."""
    card = place.card
    own = card is not None and bool(card.steps)
    return DutyCard(
        place=place.name,
        place_id=place.id,
        cautions=(*_BY_KIND.get(place.kind, ()), *_ANYWHERE),
        steps=card.steps if card is not None and own else _usual(place),
        phones=tuple(
            (each.name, each.number, _dialled(each.number)) for each in card.phones
        ) if card else (),
        spare=card.spare if card else "",
        own=own,
        holds=look.wording.contents(place.id, look.now_ms),
    )  # fmt: skip


def _usual(place: Place) -> tuple[str, ...]:
    looks = [(word, first_look(kind, place.kind)) for kind, word in _ASKED]
    if place.first_look:
        looks[0] = (looks[0][0], place.first_look)
    return tuple(Phrase("{word}: {each}.", word=word, each=each) for word, each in looks)


def _dialled(number: str) -> str:
    """Return a number as a telephone dials it."""
    return "".join(each for each in number if each.isdigit() or each == "+")
