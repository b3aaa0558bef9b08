"""Signing in and out, and a person's own password."""

import logging
import math
from dataclasses import replace
from typing import Annotated, Final

from fastapi import APIRouter, Depends, Request, Response
from fastapi import Form as Posted
from fastapi.responses import HTMLResponse, RedirectResponse
from pydantic import Field

from monitor.access.authority import AUTHORITY
from monitor.access.devices import LASTS_S, device_name, known_device, new_device
from monitor.access.passwords import fits, hashed, refused
from monitor.access.slowing import Source, stranger
from monitor.access.words import say_role
from monitor.clock import monotonic_s
from monitor.errors import BusyError, FarmError, StoreError, UnknownNameError
from monitor.farm import Person
from monitor.farm.editing import set_person
from monitor.farm.naming import plain
from monitor.phrase import Phrase
from monitor.web.admission import House
from monitor.web.asking import Form
from monitor.web.rendering import Here, Pages
from monitor.web.settings.changing import in_plain_words
from monitor.web.settings.people import CHOOSE, SPOKEN
from monitor.web.visitor import Visitor, cookie_name, secure

WRONG: Final = Phrase("That name and password do not fit together.")
BUSY: Final = Phrase("Too many have tried to sign in just now. Wait a minute, then try again.")
NOBODY: Final = Phrase(
    "Nobody has a password yet. On the monitor's own computer, run: cormwatch people password NAME"
)
log = logging.getLogger("cormwatch.web")
router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)


class SigningIn(Form):
    """What the form of the sign-in page sends."""

    name: str = Field("", max_length=100)
    password: str = Field("", max_length=1000)


class NewPassword(Form):
    """What the form for another password sends."""

    password: str = Field("", max_length=1000)
    new: str = Field("", max_length=1000)


class OwnLanguage(Form):
    """What the form for one's own language sends: a language, or ``""``."""

    language: str = Field("", max_length=10)


async def _of_app(request: Request) -> House:
    found: House = request.app.state.house
    return found


Doors = Annotated[House, Depends(_of_app)]


@router.get("/sign-in")
def ask(pages: Here, house: Doors, back: str = "/") -> Response:
    """Show the sign-in page."""
    sentence = "" if house.has_passwords() else NOBODY
    return _asked(pages, Form(back=back[:200]).own_path(), sentence)


@router.post("/sign-in")
def sign_in(
    request: Request, pages: Here, house: Doors, asked: Annotated[SigningIn, Posted()]
) -> Response:
    """Begin a session, or say that name and password do not fit: the same for every name."""
    if not pages.key.fits(asked.form_key):
        return pages.stale_form()
    back, address = asked.own_path(), request.client.host if request.client else ""
    person = _who(house, plain(asked.name))
    account = person.id if person else plain(asked.name)
    stored = house.stored(person.id) if person else None
    source = _source(request, house, account, stored)
    if not house.turnstile.passes(source, monotonic_s()):
        return _asked(pages, back, BUSY, 429)
    with house.one_at_a_time:
        wait_s = house.slowing.wait_s(account, source, monotonic_s())
        if wait_s > 0:
            return _asked(pages, back, _too_soon(wait_s), 429, wait_s)
        if not fits(stored, asked.password) or person is None:
            house.slowing.failed(account, source, monotonic_s())
            log.warning("a sign-in from %s failed (%s)", address, person.id if person else "nobody")
            return _asked(pages, back, WRONG, 403)
        house.slowing.succeeded(account, source)
    log.info("%s has signed in from %s", person.id, address)
    return _begun(request, house, pages.visitor, person, back)


def _who(house: House, wanted: str) -> Person | None:
    """Return whose id this is, else the only one of this name: never one of two."""
    people = house.desk.farm().people.values()
    by_id = [each for each in people if plain(each.id) == wanted]
    found = by_id or [each for each in people if plain(each.name) == wanted]
    return found[0] if len(found) == 1 and wanted else None


def _source(request: Request, house: House, account: str, stored: str | None) -> Source:
    """Return where a try comes from: a device that the account knows, or a stranger's address."""
    shown = request.cookies.get(_device_cookie(request, house, account), "")
    known = known_device(stored, account, shown) if shown else None
    return known or stranger(request.client.host if request.client else "")


def _device_cookie(request: Request, house: House, person: str) -> str:
    return f"{cookie_name(tls=secure(request.scope, house.web))}-{device_name(person)}"


def _too_soon(wait_s: float) -> str:
    return Phrase(
        "Too many tries by this name from here. Wait {seconds} seconds, then try again.",
        seconds=math.ceil(wait_s),
    )


def _begun(
    request: Request, house: House, visitor: Visitor, person: Person, back: str
) -> RedirectResponse:
    """Return the answer that carries a new session; the one brought along has ended."""
    mark = house.accounts.of(person.id).mark
    session = house.sessions.begin(person.id, mark, monotonic_s(), visitor.session)
    answer = RedirectResponse(back, 303)
    tls = secure(request.scope, house.web)
    device = new_device(house.stored(person.id), person.id)
    for name, value, lasts_s in (
        (cookie_name(tls=tls), session, 30 * 86_400),
        (_device_cookie(request, house, person.id), device, LASTS_S),
    ):
        answer.set_cookie(
            name, value, max_age=lasts_s, path="/", secure=tls, httponly=True, samesite="lax"
        )
    return answer


def _asked(
    pages: Pages, back: str, sentence: str = "", status: int = 200, wait_s: float = 0.0
) -> Response:
    answer = pages.page(
        pages.look(), "sign_in.html", "", status=status, sentence=sentence, back=back
    )
    if wait_s > 0:
        answer.headers["Retry-After"] = str(math.ceil(wait_s))
    return answer


@router.get("/authority.crt")
def authority(house: Doors) -> Response:
    """Give the public certificate that a phone trusts once; it is no secret."""
    try:
        held = (house.desk.farm().directory / AUTHORITY).read_bytes()
    except OSError:
        raise UnknownNameError(Phrase("This farm has made no certificate of its own.")) from None
    return Response(held, media_type="application/x-x509-ca-cert")


@router.post("/sign-out")
def sign_out(
    request: Request, pages: Here, house: Doors, asked: Annotated[Form, Posted()]
) -> Response:
    """End this session."""
    if not pages.key.fits(asked.form_key):
        return pages.stale_form()
    house.sessions.end(pages.visitor.session, monotonic_s())
    return _gone(request, house)


@router.get("/account")
def account(pages: Here) -> Response:
    """Show who is signed in, with what role, and the form for another password."""
    return _account(pages)


@router.post("/account/out")
def sign_out_everywhere(
    request: Request, pages: Here, house: Doors, asked: Annotated[Form, Posted()]
) -> Response:
    """End every session of whoever is signed in."""
    if not pages.key.fits(asked.form_key):
        return pages.stale_form()
    house.sessions.end_all(pages.visitor.person, monotonic_s())
    return _gone(request, house)


@router.post("/account/language")
def speak(pages: Here, asked: Annotated[OwnLanguage, Posted()]) -> Response:
    """Have pages and messages speak another language to whoever is signed in, and to nobody else.

    This one entry of the farm's files is changed without the role that changes all of them.
    """
    if not pages.key.fits(asked.form_key):
        return pages.stale_form()
    person = pages.desk.farm().people.get(pages.visitor.person)
    if person is None or not pages.visitor.session:
        return _account(pages, Phrase("Sign in first: a language is chosen by whoever reads it."))
    if asked.language not in dict(SPOKEN):
        return _account(pages, CHOOSE)
    why = Phrase("{name}: {what} changed", name=person.name, what=Phrase("language"))
    chosen = set_person(person.id, {"language": asked.language or None})
    try:
        pages.desk.reconfigure([chosen], by=person.name, why=why, digest=None)
    except (FarmError, BusyError, StoreError, UnknownNameError) as failure:
        return _account(pages, in_plain_words(failure))
    return RedirectResponse("/account", 303)


@router.post("/account/password")
def change_password(
    request: Request, pages: Here, house: Doors, asked: Annotated[NewPassword, Posted()]
) -> Response:
    """Take another password from whoever knows the one of now; other sessions end."""
    if not pages.key.fits(asked.form_key):
        return pages.stale_form()
    farm = house.desk.farm()
    person = farm.people.get(pages.visitor.person)
    if person is None or not pages.visitor.session:
        return _account(
            pages, Phrase("Sign in first: a password is changed by whoever it belongs to.")
        )
    source = Source("signed in", known=True)  # who guesses at the sign-in holds up nobody here
    with house.one_at_a_time:
        wait_s = house.slowing.wait_s(person.id, source, monotonic_s())
        if wait_s > 0:
            return _account(pages, _too_soon(wait_s))
        kept = house.accounts.of(person.id)
        if not fits(kept.password, asked.password):
            house.slowing.failed(person.id, source, monotonic_s())
            return _account(pages, Phrase("That is not your password of now: nothing was changed."))
        why_not = refused(asked.new, (farm.name, person.id, person.name))
        if why_not:
            return _account(pages, why_not)
        new = hashed(asked.new)
        house.accounts.change(person.id, lambda now: replace(now, password=new))
    house.sessions.end_all(person.id, monotonic_s())
    return _begun(request, house, pages.visitor, person, "/account")


def _gone(request: Request, house: House) -> Response:
    answer = RedirectResponse("/sign-in", 303)
    tls = secure(request.scope, house.web)
    answer.delete_cookie(cookie_name(tls=tls), path="/", secure=tls, httponly=True, samesite="lax")
    return answer


def _account(pages: Pages, sentence: str = "") -> Response:
    role, look = pages.visitor.role, pages.look()
    person = look.farm.people.get(pages.visitor.person)
    return pages.page(
        look, "account.html", "/account", sentence=sentence,
        status=403 if sentence else 200, may=say_role(role) if role else "",
        spoken=SPOKEN, own=(person.language if person else None) or "",
    )  # fmt: skip
