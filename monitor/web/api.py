"""The programming interface: JSON under /api/, in [°C] and [%], times UTC."""

from collections.abc import Mapping
from typing import Annotated, Any, Final

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, JSONResponse
from pydantic import BaseModel, Field

from monitor.alarms import alarms_json
from monitor.batches import open_batches
from monitor.batches.history_listing import history_json
from monitor.batches.listing import batch_details_json, batches_json
from monitor.farm import find_place, parse_when
from monitor.model import PlaceState, Quantity
from monitor.units import iso_utc
from monitor.watch import batch_states, places_json, sensors_json
from monitor.watch.tonight_listing import tonight_json
from monitor.web.asking import Asked, Quieting
from monitor.web.batch_page import reported
from monitor.web.chart import POINTS, POINTS_AT_MOST, series_json
from monitor.web.loading import LONGEST_MIN, USUAL_MIN, loaded_until_ms, record_loading
from monitor.web.look import Look
from monitor.web.rendering import Here
from monitor.web.sound import sound

_DAY: Final = "24 h ago"
router = APIRouter(prefix="/api", tags=["farm"], default_response_class=JSONResponse)


class SeriesAsked(BaseModel):
    """Which lines are asked for; times as in the commands, in the farm's zone by default."""

    place: str
    quantity: Quantity
    since: str = _DAY
    until: str = "now"
    points: int = Field(POINTS, ge=2, le=POINTS_AT_MOST)
    most: int | None = Field(
        None, ge=2, description="Of more lines than so many the last is all others together."
    )


class Answer(BaseModel):
    """What became of it, as a sentence."""

    said: str


def _json(told: object) -> JSONResponse:
    return JSONResponse(sound(told))


@router.get("/places")
def places(pages: Here) -> JSONResponse:
    """List the places: state, bands, newest values."""
    look = pages.look()
    return _json(places_json(look.met(), look.watch, look.now_ms))


class Loaded(Asked):
    """Who is loading a cooler and for how long [min]; or, by ``end``, no longer."""

    minutes: int = Field(USUAL_MIN, ge=1, le=LONGEST_MIN)
    end: bool = False


@router.get("/places/{place_id}/loading")
def loading_now(pages: Here, place_id: str) -> JSONResponse:
    """Tell until when a cooler is being loaded; ``until`` is null where it is not."""
    look = pages.look()
    return _json({"until": iso_utc(loaded_until_ms(look, look.known_place(place_id)))})


@router.post("/places/{place_id}/loading")
def load(pages: Here, place_id: str, body: Loaded) -> JSONResponse:
    """Say that a cooler is being loaded, so that warm air is expected; the body is JSON."""
    place = pages.look().known_place(place_id)
    record_loading(pages, place, body.by, end=body.end, minutes=body.minutes)
    return _json({"until": iso_utc(loaded_until_ms(pages.look(), place))})


@router.get("/sensors")
def sensors(pages: Here) -> JSONResponse:
    """List the sensors and when each was last heard."""
    return _json(sensors_json(pages.desk.farm(), pages.desk.reader().heard()))


@router.get("/batches")
def batches(pages: Here, *, ended: bool = False) -> JSONResponse:
    """List the batches that are here; with ``ended`` all there ever were."""
    look = pages.look()
    return _json(batches_json(look.book, _states(look), ended=ended))


@router.get("/batches/{batch_id}")
def batch(pages: Here, batch_id: int) -> JSONResponse:
    """Tell one batch: stays, entries, what was seen, what left, what it lived through."""
    return _json(_batch(pages.look(), batch_id))


@router.get("/alarms")
def alarms(
    pages: Here, *, open_only: Annotated[bool, Query(alias="open")] = False,
    limit: Annotated[int | None, Query(ge=1, le=1000)] = None,
) -> JSONResponse:  # fmt: skip
    """List the newest 200 alarms, or so many; with ``open`` all that are not over and seen."""
    return _json(alarms_json(pages.desk.ledger.alarms(open_only=open_only, limit=limit)))


@router.post("/alarms/{alarm_id}/acknowledge")
def acknowledge(pages: Here, alarm_id: int, body: Asked) -> Answer:
    """Say that someone has seen an alarm; the body is JSON."""
    return Answer(said=pages.desk.acknowledge(alarm_id, body.by))


@router.post("/alarms/{alarm_id}/quiet")
def quiet(pages: Here, alarm_id: int, body: Quieting) -> Answer:
    """Keep an alarm quiet for some hours, with a reason; the body is JSON."""
    return Answer(said=pages.desk.put_aside(alarm_id, body.quiet(pages.desk.now_ms())))


@router.post("/alarms/{alarm_id}/unquiet")
def unquiet(pages: Here, alarm_id: int, body: Asked) -> Answer:
    """End an alarm's being put aside; the body is JSON."""
    return Answer(said=pages.desk.take_back(alarm_id, body.by))


@router.get("/tonight")
def tonight(pages: Here) -> JSONResponse:
    """Tell tonight's outlook and this morning's heat of each tunnel and field; chances 0 to 1."""
    told = pages.outlook.at(pages.look())
    return _json(tonight_json(told.nights, told.heat))


@router.get("/series")
def series(pages: Here, asked: Annotated[SeriesAsked, Query()]) -> JSONResponse:
    """Tell the lines of one quantity in one place: least, most and mean of each point."""
    look = pages.look()
    return _json(_series(look, asked))


@router.get("/", include_in_schema=False, response_class=HTMLResponse)
def listing(pages: Here, request: Request) -> HTMLResponse:
    """Show the routes on a page."""
    return pages.page(pages.look(), "api.html", "/help", routes=_routes(request.app.openapi()))


def _routes(described: Mapping[str, Any]) -> list[dict[str, str]]:
    return [
        {
            "method": method.upper(),
            "path": path,
            "about": told.get("description", "").replace("``", ""),
        }
        for path, methods in described["paths"].items()
        for method, told in methods.items()
    ]


def _states(look: Look) -> Mapping[int, PlaceState]:
    return batch_states(look.watch, open_batches(look.book), look.now_ms)


def _batch(look: Look, batch_id: int) -> dict[str, Any]:
    report = reported(look, batch_id)
    told = report.told
    details = batch_details_json(told.batch, told.book, told.entries, _states(look))
    return details | {"history": history_json(report.history)}


def _series(look: Look, asked: SeriesAsked) -> dict[str, Any]:
    since, until = (
        parse_when(each, look.farm.zone, look.now_ms, future=True)
        for each in (asked.since, asked.until)
    )
    place = find_place(look.farm, asked.place)
    span = since, max(since, until) + 1
    return series_json(look, place, asked.quantity, span, asked.points, asked.most)
