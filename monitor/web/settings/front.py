"""The first page of the settings: where everything is changed, a test notice, what was changed."""

from typing import Final

from fastapi import APIRouter, Response
from fastapi.responses import HTMLResponse, RedirectResponse

from monitor.alarms.saying import say_time
from monitor.model import Notice, NoticeKind, NoticeStatus
from monitor.notices import drills
from monitor.phrase import Phrase
from monitor.web.look import Look
from monitor.web.rendering import Here, Pages
from monitor.web.settings.changing import OLD, shown
from monitor.web.settings.people import services
from monitor.web.settings.typed import Sent, Typed

_CHANGES_SHOWN: Final = 30
_TESTS_SHOWN: Final = 8

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)


@router.get("/settings")
def front(pages: Here, *, done: bool = False) -> Response:
    """Show what can be changed, and what was."""
    return _page(pages, Typed(), done=done)


@router.post("/settings/test")
def test(pages: Here, typed: Sent) -> Response:
    """Send a marked test to every address."""
    look, by = pages.look(), typed.by
    tests = [
        drills.plain_test(look.farm, person.id, str(number), by, look.now_ms)
        for person in look.farm.people.values()
        for number, _ in services(person)
    ]
    if not tests:
        typed.refuse("", Phrase("nobody has an address: give somebody one first"))
    if not pages.key.fits(typed.text("form_key")):
        typed.refuse("", OLD)
    if typed.wrong:
        return _page(pages, typed)
    look.desk.ledger.add_notices(tests)
    return RedirectResponse("/settings#test", 303)


def _page(pages: Pages, typed: Typed, *, done: bool = False) -> Response:
    look = pages.look()
    farm = look.farm
    told = {each.id: len(each.addresses) for each in farm.people.values()}
    kept = look.desk.ledger.configurations()[-_CHANGES_SHOWN:]
    drilled = [each for each in look.desk.ledger.notices() if each.kind is NoticeKind.DRILL]
    return shown(
        pages, look, "settings.html", "/settings", typed, done=done,
        places=farm.places.values(), persons=farm.people.values(), addresses=told,
        crops=farm.crops.values(), tests=[_result(look, each) for each in drilled[:_TESTS_SHOWN]],
        changes=[(say_time(e.at_ms, farm.zone, look.now_ms), e.by) for e in reversed(kept)],
        limits=pages.limits.lines(look), copies=look.desk.health().copies,
    )  # fmt: skip


def _result(look: Look, notice: Notice) -> str:
    person = look.farm.people.get(notice.person)
    who = Phrase(
        "{name}, address {address}",
        name=person.name if person else notice.person,
        address=notice.address,
    )
    if notice.status is NoticeStatus.SENT:
        said = Phrase("sent: did it arrive?")
    elif notice.status is NoticeStatus.WAITING:
        said = (
            Phrase("not sent yet: {last_error}", last_error=notice.last_error)
            if notice.last_error
            else Phrase("on its way")
        )
    else:
        said = Phrase("NOT SENT: {last_error}", last_error=notice.last_error or "it was dropped")
    return Phrase("{who}: {said} ({time})", who=who, said=said, time=look.time(notice.created_ms))
