"""The forms of batches, what a phone's queue sends, and the page that says it is recorded."""

from collections.abc import Sequence
from typing import Annotated, Any, Final

from fastapi import APIRouter, Request, Response
from fastapi import Form as Sends
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse

from monitor.batches.asked import remarks
from monitor.batches.telling import say_entry
from monitor.errors import LedgerRuleError, OutOfRangeError, UnitError, UnknownNameError
from monitor.model import EntryKind, LedgerEntry
from monitor.phrase import Phrase
from monitor.web.batch_lines import lot
from monitor.web.look import Look
from monitor.web.recording.entering import Sent, enter
from monitor.web.recording.plainly import plainly
from monitor.web.recording.sheet import new_token, sheet
from monitor.web.recording.words import VERBS, Item, Posted, Words
from monitor.web.rendering import Here, Pages
from monitor.web.visitor import ACTING

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)
machine = APIRouter(prefix="/api", tags=["farm"], default_response_class=JSONResponse)
REFUSALS: Final = (LedgerRuleError, UnknownNameError, UnitError, OutOfRangeError)
_OLD_FORM: Final = Phrase(
    "This page was older than the monitor's last start, so nothing was "
    "recorded yet. What you typed is still here: press once more."
)


@router.get("/record/done/{token}")
def done(pages: Here, token: str) -> Response:
    """Show what was recorded by a form."""
    look = pages.look()
    entries = look.desk.ledger.entries_by_token(token)
    if not entries:
        raise UnknownNameError(Phrase("Nothing was recorded by this form."))
    return _done(pages, look, entries)


@router.get("/record/{verb}")
def form(pages: Here, request: Request, verb: str) -> Response:
    """Show the form of a verb; the address may name a batch, a place, or any other word."""
    asked = dict(request.query_params)
    words = {name: asked[name][:300] for name in asked if name in Words.model_fields}
    words.pop("pad", None)
    return _form(pages, verb, words)


@router.post("/record/{verb}")
def take(pages: Here, verb: str, posted: Annotated[Posted, Sends()]) -> Response:
    """Write down what a form says, or show it again with what is wrong."""
    if not pages.key.fits(posted.form_key):
        return _form(pages, verb, posted.typed(), posted.token, _OLD_FORM, status=403)
    said = posted.said(pages.desk.farm().units)
    try:
        entries = enter(pages.desk, Sent(verb, posted.token, posted.by, said))
    except REFUSALS as refusal:
        return _form(pages, verb, posted.typed(), posted.token, plainly(str(refusal)), status=422)
    return RedirectResponse(f"/record/done/{posted.token}" if entries else "/batches", 303)


@machine.post("/entries")
def entries(pages: Here, item: Item) -> JSONResponse:
    """Write down one entry of a phone's queue, once however often it is sent."""
    acting = ACTING.get()
    if acting and item.by and item.by != acting:
        said = Phrase("{by} wrote this down: it is sent once {by} has signed in", by=item.by)
        return JSONResponse({"detail": said}, 409)
    sent = Sent(
        item.verb, item.token, acting or item.by.strip(),
        item.words.said(pages.desk.farm().units), item.age_ms, item.seen_ms,
    )  # fmt: skip
    try:
        enter(pages.desk, sent)
    except REFUSALS as refusal:
        return JSONResponse({"detail": plainly(str(refusal))}, 422)
    return JSONResponse({"page": f"/record/done/{item.token}"})


def _form(
    pages: Pages, verb: str, words: dict[str, Any], token: str = "", refused: str = "", *,
    status: int = 200,
) -> Response:  # fmt: skip
    if verb not in VERBS:
        raise UnknownNameError(Phrase("There is no such form."))
    look = pages.look()
    return pages.page(
        look, "record.html", f"/record/{verb}", status=status,
        sheet=sheet(look, verb, words, token), refused=refused,
    )  # fmt: skip


def _done(pages: Pages, look: Look, entries: Sequence[LedgerEntry]) -> Response:
    told = [
        (
            look.batch(look.book.batches[each.batch]),
            say_entry(look.farm, look.book.batches[each.batch], each),
            Phrase("{time} · {by}", time=look.time(each.at_ms), by=each.by),
            each.id in look.book.undone,
        )
        for each in entries
        if each.batch in look.book.batches
    ]
    touched = dict.fromkeys(each.batch for each in entries if each.batch in look.book.batches)
    lots = [lot(look, look.book.batches[each]) for each in touched]
    undoing = any(each.kind is EntryKind.UNDONE for each in entries)
    undone = any(each.id in look.book.undone for each in entries)
    first = entries[0]
    return pages.page(
        look, "recorded.html", "", told=told, lots=lots, token=new_token(),
        remarks=[] if undone else remarks(look.farm, look.book, entries),
        undo=None if undoing or undone else (first.batch, first.id),
    )  # fmt: skip
