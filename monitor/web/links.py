"""One-tap links from a message: GET shows what it would do, POST does it, once."""

import logging
from collections import deque
from typing import Annotated, Final

from fastapi import APIRouter, Depends, Request, Response
from fastapi.responses import HTMLResponse

from monitor.clock import monotonic_s
from monitor.farm import find_person
from monitor.model import Answer, Link, LinkAction
from monitor.notices import drills
from monitor.phrase import Capital, Phrase
from monitor.web.rendering import Here, Pages

A_MINUTE: Final = 30
_MINUTE_S: Final = 60.0
_DO: Final = {
    LinkAction.SEEN: Phrase("Seen"), LinkAction.GOING: Phrase("I'm going"),
    LinkAction.REAL: Phrase("It was real"), LinkAction.NEEDLESS: Phrase("It was needless"),
    LinkAction.WOKE: Phrase("It woke me"),
}  # fmt: skip
UNKNOWN: Final = Phrase("This link is not known here. Open the alarms and answer there.")
USED: Final = Phrase(
    "This link has been used already, so nothing was done. The alarms say how it stands."
)
EXPIRED: Final = Phrase(
    "This link is more than a day old and no longer works. Open the alarms instead."
)
BUSY: Final = Phrase(
    "Too many links were opened in this minute. Wait a minute, or open the alarms."
)

log = logging.getLogger("cormwatch.web")
router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)


class Gate:
    """Lets so many made-up links through a minute, whoever tries; one that was sent always passes.

    A token cannot be guessed by trying, and who tries keeps nobody from answering an alarm.
    """

    def __init__(self, a_minute: int = A_MINUTE) -> None:
        self._passed: deque[float] = deque(maxlen=a_minute)

    def passes(self) -> bool:
        """Return whether one more may pass now."""
        now_s = monotonic_s()
        if len(self._passed) == self._passed.maxlen and now_s - self._passed[0] < _MINUTE_S:
            return False
        self._passed.append(now_s)
        return True


async def _of_app(request: Request) -> Gate:
    found: Gate = request.app.state.gate
    return found


Passing = Annotated[Gate, Depends(_of_app)]


@router.get("/a/{token}")
def show(pages: Here, gate: Passing, token: str) -> Response:
    """Show what a link would do; a preview that fetches it does nothing."""
    link = pages.desk.ledger.link(token)
    refused = _refused(pages, link)
    if refused or link is None:
        return _say(pages, refused, 410) if link else _unknown(pages, gate)
    title, text = _asked(pages, link)
    log.info("a link of %s was opened: %s", _of(link), link.action.value)
    return pages.page(
        pages.look(), "link.html", "", title=title, text=text,
        word=_DO[link.action], person=_name(pages, link),
    )  # fmt: skip


@router.post("/a/{token}")
def act(pages: Here, gate: Passing, token: str) -> Response:
    """Do what a link is for, once."""
    ledger, now_ms = pages.desk.ledger, pages.desk.now_ms()
    link = ledger.link(token)
    refused = _refused(pages, link)
    if link is None or refused:
        return _say(pages, refused, 410) if link else _unknown(pages, gate)
    if link.action is LinkAction.WOKE:
        _woken(pages, link, now_ms)
    if not ledger.use_link(token, now_ms):
        return _say(pages, USED, 410)
    log.info("a link of %s was used: %s by %s", _of(link), link.action.value, _name(pages, link))
    sentence = _done(pages, link, now_ms)
    return pages.page(pages.look(), "link_done.html", "", sentence=sentence, alarm=link.alarm)


def _done(pages: Pages, link: Link, now_ms: int) -> str:
    """Do what a link is for, and return what to say of it."""
    by = _name(pages, link)
    if link.alarm is None:
        return Phrase("Thank you, {by}: the road to your phone is proved for thirty days.", by=by)
    if link.action in {LinkAction.REAL, LinkAction.NEEDLESS}:
        needless = link.action is LinkAction.NEEDLESS
        pages.desk.ledger.score(link.alarm, needless=needless, by=by, now_ms=now_ms)
        return Phrase("Thank you: that is written down for the season's scorecard.")
    said = pages.desk.acknowledge(link.alarm, by, Answer(link.action.value))
    return Phrase("{said}.", said=Capital(said))


def _woken(pages: Pages, link: Link, now_ms: int) -> None:
    """Write down that a night drill woke someone.

    Raises
    ------
    LedgerRuleError
        If it comes too late to count.
    UnknownNameError
        If the person is none of the farm's any more.
    """
    person = find_person(pages.desk.farm(), link.person)
    pages.desk.ledger.alter(drills.KEY, lambda kept: drills.woken(kept, person, now_ms))


def _asked(pages: Pages, link: Link) -> tuple[str, str]:
    """Return title and text of what a link answers."""
    if link.alarm is None:
        return drills.title(pages.desk.farm()), Phrase("A night drill. Nothing is wrong.")
    alarm = pages.desk.ledger.alarm(link.alarm)
    return alarm.title, alarm.text


def _of(link: Link) -> str:
    return (
        Phrase("a night drill") if link.alarm is None else Phrase("alarm {alarm}", alarm=link.alarm)
    )


def _refused(pages: Pages, link: Link | None) -> str:
    if link is None:
        return UNKNOWN
    if link.used_ms is not None:
        return USED
    return EXPIRED if link.expires_ms <= pages.desk.now_ms() else ""


def _unknown(pages: Pages, gate: Gate) -> Response:
    return _say(pages, UNKNOWN, 404) if gate.passes() else _say(pages, BUSY, 429)


def _name(pages: Pages, link: Link) -> str:
    person = pages.desk.farm().people.get(link.person)
    return person.name if person else link.person


def _say(pages: Pages, sentence: str, status: int) -> Response:
    return pages.said(sentence, status)
