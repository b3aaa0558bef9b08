"""The form on a cooler's page: warm stems are being loaded, so warm air is expected a while."""

from dataclasses import dataclass
from typing import Annotated, Final

from fastapi import APIRouter, Response
from fastapi import Form as Posted
from fastapi.responses import HTMLResponse, RedirectResponse

from monitor.batches.loading import LONGEST_MS, USUAL_MS, end_loading, load
from monitor.errors import LedgerRuleError
from monitor.farm import Place
from monitor.model import PlaceKind
from monitor.phrase import Phrase
from monitor.web.asking import Asked, Form
from monitor.web.look import Look
from monitor.web.rendering import Here, Pages

_MINUTE_MS: Final = 60_000
USUAL_MIN: Final = USUAL_MS // _MINUTE_MS
LONGEST_MIN: Final = LONGEST_MS // _MINUTE_MS
router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)


class Loaded(Form, Asked):
    """What the form sends; ``end`` says that the loading is over."""

    end: bool = False


@dataclass(frozen=True, slots=True)
class Loading:
    """How a cooler's loading stands: until when, or ``""`` where it is not being loaded."""

    until: str


def loading(look: Look, place: Place) -> Loading | None:
    """Return how the loading of a place stands; None where nothing is ever loaded."""
    if place.kind is not PlaceKind.COOLER:
        return None
    until_ms = loaded_until_ms(look, place)
    return Loading("" if until_ms is None else look.time(until_ms))


def loaded_until_ms(look: Look, place: Place) -> int | None:
    """Return until when a place is being loaded, None where it is not. [ms]"""
    ends = (
        each.until_ms
        for each in look.book.loadings
        if each.place == place.id and each.from_ms <= look.now_ms < each.until_ms
    )
    return max(ends, default=None)


def record_loading(pages: Pages, place: Place, by: str, *, end: bool, minutes: int) -> None:
    """Write down that a cooler is being loaded for some minutes, or no longer.

    Raises
    ------
    LedgerRuleError
        If it is no cooler, or the loading would last too long.
    """
    look = pages.look()
    if loading(look, place) is None:
        raise LedgerRuleError(
            Phrase("{name} is no cooler: there is no loading to wait for there", name=place.name)
        )
    pages.desk.record(
        end_loading(place.id, by, look.now_ms)
        if end
        else load(place.id, look.now_ms + minutes * _MINUTE_MS, by, look.now_ms)
    )


@router.post("/places/{place_id}/loading")
def begin_or_end(pages: Here, place_id: str, asked: Annotated[Loaded, Posted()]) -> Response:
    """Write down that a cooler is being loaded, or no longer, and show the page again."""
    if not pages.key.fits(asked.form_key):
        return pages.stale_form()
    place = pages.look().known_place(place_id)
    record_loading(pages, place, asked.by, end=asked.end, minutes=USUAL_MIN)
    return RedirectResponse(f"{asked.own_path()}#loading", 303)
