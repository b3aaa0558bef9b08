"""The pages: each takes one look, and is complete without a script."""

from typing import Annotated, Final

from fastapi import APIRouter, Form, Response
from fastapi.responses import HTMLResponse, RedirectResponse

from monitor.alarms.deciding import WATCH
from monitor.alarms.told import note_of
from monitor.batches import open_batches
from monitor.errors import LedgerRuleError
from monitor.farm import Place
from monitor.model import AlarmState, Quantity, Role
from monitor.phrase import Phrase
from monitor.units import iso_utc
from monitor.web.alarm_boxes import box, boxes, sorted_out
from monitor.web.asking import Quieted, Scored, Seen
from monitor.web.batch_lines import board, lot, next_due
from monitor.web.batch_page import OUTS_SHOWN, facts, outs, pasts, reported, written
from monitor.web.calm import calm
from monitor.web.chart import SPANS, chart
from monitor.web.figures import figures
from monitor.web.loading import loading
from monitor.web.look import Look
from monitor.web.place_cards import card, cards, leading
from monitor.web.place_page import charted, habit, sources
from monitor.web.rendering import Here, Pages
from monitor.web.sensor_lines import hung, listed, refused
from monitor.web.settings.adopting import topics
from monitor.web.settings.ice import due
from monitor.web.tonight import lines
from monitor.web.weeks import week_lines
from monitor.web.words import ALARM_STATES

_OVER: Final = (AlarmState.NORMAL, AlarmState.RETURNED_UNACKNOWLEDGED)
_PAST_SHOWN: Final = 50
_REFUSED_SHOWN: Final = 20
_PLACES_OFFERED: Final = 60

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)


@router.get("/")
def now(pages: Here) -> Response:
    """Show what is in danger first, then every place, then what is due."""
    look = pages.look()
    shown = sorted_out(boxes(look, look.desk.ledger.alarms(open_only=True)))
    return pages.page(
        look, "now.html", "/", shown=shown, calm=calm(look, shown),
        troubles=look.desk.health().troubles,
        places=cards(look, pages.trails), due=next_due(look),
        outlook=lines(look, pages.outlook.at(look)),
    )  # fmt: skip


@router.get("/tonight")
def tonight(pages: Here) -> Response:
    """Show what the night may bring in each tunnel and field, and this morning's heat."""
    look = pages.look()
    outlook = lines(look, pages.outlook.at(look))
    return pages.page(look, "tonight.html", "/tonight", outlook=outlook)


@router.get("/places/{place_id}")
def place(pages: Here, place_id: str, show: str = "", span: str = "1d") -> Response:
    """Show one place: figures, chart, what is in there, its sensors."""
    look = pages.look()
    return _place(pages, look, look.known_place(place_id), show, span)


@router.get("/batches")
def batches(pages: Here) -> Response:
    """Show the batches by stage."""
    look = pages.look()
    ended = [each for each in look.book.batches.values() if each.ended_ms is not None]
    ended.sort(key=lambda each: -(each.ended_ms or 0))
    return pages.page(
        look, "batches.html", "/batches", steps=board(look, open_batches(look.book)),
        ended=[lot(look, each) for each in ended[:_PAST_SHOWN]],
    )  # fmt: skip


@router.get("/batches/{batch_id}")
def batch(pages: Here, batch_id: int) -> Response:
    """Show what one batch has lived through."""
    return _batch(pages, pages.look(), batch_id)


@router.get("/alarms")
def alarms(pages: Here) -> Response:
    """Show the alarms: open, put aside, expected, then past."""
    look = pages.look()
    ledger = look.desk.ledger
    past = [each for each in ledger.alarms(limit=200) if each.state.value == "normal"]
    shown = sorted_out(boxes(look, ledger.alarms(open_only=True)))
    return pages.page(
        look, "alarms.html", "/alarms", shown=shown, calm=calm(look, shown),
        past=boxes(look, past, ledger.scores())[:_PAST_SHOWN], weeks=week_lines(look),
        limits=pages.limits.lines(look),
    )  # fmt: skip


@router.get("/alarms/{alarm_id}")
def alarm(pages: Here, alarm_id: int) -> Response:
    """Show one alarm: its words, why it is told, and each step of it."""
    look = pages.look()
    found = look.desk.ledger.alarm(alarm_id)
    steps = [
        (look.time(each.at_ms), _by(each.by), note_of(found, each.note), ALARM_STATES[each.after])
        for each in look.desk.ledger.audit(alarm_id)
    ]
    needless = look.desk.ledger.scores().get(alarm_id)
    return pages.page(
        look, "alarm.html", f"/alarms/{alarm_id}", alarm=box(look, found, needless), steps=steps
    )


@router.get("/sensors")
def sensors(pages: Here) -> Response:
    """Show the sensors, and what nobody claims."""
    look, reader = pages.look(), pages.reader()
    return pages.page(
        look, "sensors.html", "/sensors", sensors=listed(look, reader.refusal_counts()),
        topics=topics(look, reader.unclaimed()), digest=look.farm.digest,
        checks={e.id: due(look.farm, e, look.now_ms) for e in look.farm.sensors.values()},
        adopting=pages.visitor.may(Role.CHANGE), names=[e.name for e in look.farm.people.values()],
        places=_few([(e.id, e.name) for e in look.farm.places.values()]),
        refused=refused(look, reader.refusals(_REFUSED_SHOWN)),
    )  # fmt: skip


@router.get("/help")
def help_(pages: Here) -> Response:
    """Show how to read the pages, and the cautions."""
    return pages.page(pages.look(), "help.html", "/help")


@router.get("/help/sensors")
def choosing(pages: Here) -> Response:
    """Show how to choose sensors, by what each place asks of them."""
    return pages.page(pages.look(), "choosing.html", "/help")


@router.post("/alarms/{alarm_id}/acknowledge")
def acknowledge(pages: Here, alarm_id: int, seen: Annotated[Seen, Form()]) -> Response:
    """Take that someone has seen an alarm, and show the page again."""
    if not pages.key.fits(seen.form_key):
        return pages.stale_form()
    pages.desk.acknowledge(alarm_id, seen.by, seen.answer)
    return RedirectResponse(f"{seen.own_path()}#alarm-{alarm_id}", 303)


@router.post("/alarms/{alarm_id}/score")
def score(pages: Here, alarm_id: int, asked: Annotated[Scored, Form()]) -> Response:
    """Take whether an alarm was real or needless, and show the page again."""
    if not pages.key.fits(asked.form_key):
        return pages.stale_form()
    ledger, needless = pages.desk.ledger, asked.verdict == "needless"
    if ledger.alarm(alarm_id).state not in _OVER:
        raise LedgerRuleError("It is not over yet: say so once it is.")
    ledger.score(alarm_id, needless=needless, by=asked.by, now_ms=pages.desk.now_ms())
    return RedirectResponse(f"{asked.own_path()}#judged", 303)


@router.post("/alarms/{alarm_id}/quiet")
def quiet(pages: Here, alarm_id: int, asked: Annotated[Quieted, Form()]) -> Response:
    """Keep an alarm quiet for a while, and show the page again."""
    if not pages.key.fits(asked.form_key):
        return pages.stale_form()
    pages.desk.put_aside(alarm_id, asked.quiet(pages.desk.now_ms()))
    return RedirectResponse(f"{asked.own_path()}#alarm-{alarm_id}", 303)


@router.post("/alarms/{alarm_id}/unquiet")
def unquiet(pages: Here, alarm_id: int, seen: Annotated[Seen, Form()]) -> Response:
    """End an alarm's being put aside, and show the page again."""
    if not pages.key.fits(seen.form_key):
        return pages.stale_form()
    pages.desk.take_back(alarm_id, seen.by)
    return RedirectResponse(f"{seen.own_path()}#alarm-{alarm_id}", 303)


def _by(who: str) -> str:
    """Return who made a step of an alarm: a person's name, or the monitor itself."""
    return Phrase("the monitor") if who == WATCH else who


def _few(places: list[tuple[str, str]]) -> list[tuple[str, str]]:
    """Return the places if they are few enough to be offered beside each topic, else none."""
    return places if len(places) <= _PLACES_OFFERED else []


def _place(pages: Pages, look: Look, place: Place, show: str, span: str) -> Response:
    lead = leading(look.status(place.id).channels)
    known = charted(look, place)
    wanted = next((each for each in known if each.value == show), None)
    quantity = wanted or (lead.channel.quantity if lead else Quantity.TEMPERATURE)
    here = [each for each in open_batches(look.book) if each.stays[-1].place == place.id]
    open_alarms = look.desk.ledger.alarms(open_only=True, place=place.id)
    return pages.page(
        look, "place.html", f"/places/{place.id}",
        card=card(look, pages.trails, place), figures=figures(look, place),
        shown=sorted_out(boxes(look, open_alarms)), sources=list(sources(look, place)),
        habit=habit(look, place), loading=loading(look, place),
        chart=chart(look, place, quantity, span if span in SPANS else "1d") if known else None,
        until=iso_utc(look.now_ms), batches=[lot(look, each) for each in here],
        sensors=hung(look, place.id),
    )  # fmt: skip


def _batch(pages: Pages, look: Look, batch_id: int) -> Response:
    report = reported(look, batch_id)
    batch = report.told.batch
    out = outs(look, report.history)
    return pages.page(
        look, "batch.html", f"/batches/{batch_id}", lot=lot(look, batch),
        verdict="" if batch.ended_ms is not None else report.spoken,
        facts=facts(look, batch), pasts=pasts(look, batch, report.history),
        outs=out[:OUTS_SHOWN], more_outs=max(0, len(out) - OUTS_SHOWN), notes=report.notes,
        entries=written(look, batch, report.told.entries),
    )  # fmt: skip
