"""Settings of a place: its name and first look, and its limits, each with a reason."""

from typing import Final

from fastapi import APIRouter, Response
from fastapi.responses import HTMLResponse

from monitor.farm import Place
from monitor.farm.editing import add_place, change_limits, free_id, set_place
from monitor.farm.editing.limits import LIMITED, dangers, say_duration, written
from monitor.farm.sheets import FARM
from monitor.model import Band, PlaceKind, Quantity
from monitor.phrase import Phrase, together
from monitor.report.recorded import ids_used
from monitor.units import parse_duration_s
from monitor.web.look import Look
from monitor.web.rendering import Here, Pages
from monitor.web.settings.bands_form import band_form, limits_typed
from monitor.web.settings.changing import change, made, shown
from monitor.web.settings.typed import Sent, Typed
from monitor.web.words import KIND_WORDS, quantity_name

COVERS: Final = (
    ("", Phrase("not said")),
    ("none", Phrase("none")),
    ("light", Phrase("light cloth")),
    ("heavy", Phrase("heavy cloth")),
    ("inner", Phrase("an inner tunnel")),
)
PLACE_KINDS: Final = (
    ("", Phrase("choose")), *((each.value, word) for each, word in KIND_WORDS.items()),
)  # fmt: skip
_OUTDOORS: Final = (PlaceKind.TUNNEL, PlaceKind.FIELD)

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)


@router.get("/settings/new-place")
def new(pages: Here) -> Response:
    """Show the form that adds a place."""
    return _new_page(pages, Typed())


@router.post("/settings/new-place")
def add(pages: Here, typed: Sent) -> Response:
    """Add a place with the limits of its kind."""
    farm = pages.desk.farm()
    name = typed.needed("name", Phrase("give the place a name"))
    kinds = [each.value for each in PlaceKind]
    kind = typed.one_of("kind", kinds, Phrase("choose what kind of place it is"))
    if name.casefold() in {each.name.casefold() for each in farm.places.values()}:
        typed.refuse("name", Phrase("there is a place of this name already"))
    used = ids_used(farm.places, pages.desk.ledger.configurations(), FARM, "place")
    id_ = free_id(used, name, "place")
    changes = [add_place(id_, name, PlaceKind(kind))] if kind else []
    if change(pages, typed, changes, Phrase("place {name} added", name=name)):
        return made(f"/settings/places/{id_}")
    return _new_page(pages, typed)


def _new_page(pages: Pages, typed: Typed) -> Response:
    return shown(pages, pages.look(), "new_place.html", "/settings", typed, kinds=PLACE_KINDS)


@router.get("/settings/places/{place_id}")
def one(pages: Here, place_id: str, *, done: bool = False) -> Response:
    """Show a place's settings."""
    return _page(pages, Typed(), place_id, done=done)


@router.post("/settings/places/{place_id}")
def edit(pages: Here, place_id: str, typed: Sent) -> Response:
    """Change a place's facts, or the limits of one quantity."""
    look = pages.look()
    place = look.known_place(place_id)
    limited = typed.form in {each.value for each in LIMITED}
    done = _limits(pages, look, place, typed) if limited else _facts(pages, place, typed)
    return made(f"/settings/places/{place.id}") if done else _page(pages, typed, place_id)


def _limits(pages: Pages, look: Look, place: Place, typed: Typed) -> bool:
    quantity = Quantity(typed.form)
    band, unit = place.bands.get(quantity, Band()), look.farm.units
    touched = limits_typed(typed, quantity, band, unit)
    by, why = typed.by, typed.why
    if not touched:
        typed.refuse("", Phrase("nothing is different from what it was"))
    for each in dangers(place, quantity, touched) if not typed.wrong else ():
        typed.ask(each)
    before = written(band, quantity, unit)
    made_by = change_limits(place.id, quantity, touched, before, f"set by {by}: {why}")
    return change(pages, typed, [made_by], Phrase("{name}: {why}", name=place.name, why=why))


def _facts(pages: Pages, place: Place, typed: Typed) -> bool:
    values: dict[str, str | None] = {}
    if typed.touched("name"):
        values["name"] = typed.needed("name", Phrase("give the place a name"))
    if typed.touched("first_look"):
        values["first_look"] = typed.text("first_look") or None
    if typed.touched("cover"):
        known = [value for value, _ in COVERS]
        values["cover"] = (
            typed.one_of("cover", known, Phrase("choose what covers its beds")) or None
        )
    if typed.touched("lag"):
        lag_s = typed.read("lag", parse_duration_s)
        values["lag"] = None if lag_s is None else typed.text("lag")
    if not values:
        typed.refuse("", Phrase("nothing is different from what it was"))
    words = {"first_look": Phrase("first look"), "lag": Phrase("how slowly it follows the air")}
    what = together((words.get(key, key) for key in values), ", ")
    return change(
        pages,
        typed,
        [set_place(place.id, values)],
        Phrase("{name}: {what} changed", name=place.name, what=what),
    )


def _page(pages: Pages, typed: Typed, place_id: str, *, done: bool = False) -> Response:
    look = pages.look()
    place = look.known_place(place_id)
    told = {
        each.quantity
        for sensor in look.farm.sensors.values()
        for each in sensor.channels
        if sensor.place == place.id
    }
    bands = [
        band_form(each, place.bands.get(each, Band()), look.farm.units)
        for each in LIMITED
        if each in place.bands or each in told
    ]
    return shown(
        pages, look, "place_settings.html", "/settings", typed, done=done, place=place,
        bands=bands, covers=COVERS if place.kind in _OUTDOORS else (),
        lag=say_duration(place.lag_s) if place.lag_s else "",
        water=quantity_name(Quantity.TEMPERATURE, place.kind),
    )  # fmt: skip
