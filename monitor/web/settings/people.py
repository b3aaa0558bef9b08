"""Settings of the people: who is told, at which addresses, and what each may do."""

from secrets import token_hex
from typing import Final

from fastapi import APIRouter, Response
from fastapi.responses import HTMLResponse

from monitor.access.accounts import accounts_of
from monitor.errors import UnknownNameError
from monitor.farm import Farm, Person
from monitor.farm.editing import (
    Change,
    add_address,
    add_person,
    free_id,
    remove_address,
    remove_person,
    set_person,
)
from monitor.model import Role
from monitor.phrase import LANGUAGES, Phrase, together
from monitor.web.look import Look
from monitor.web.rendering import Here, Pages
from monitor.web.settings.changing import change, made, shown
from monitor.web.settings.typed import Sent, Typed

ROLES: Final = (
    (Role.HELP.value, Phrase("see all, answer alarms, record")),
    (Role.SEE.value, Phrase("see all")),
    (Role.CHANGE.value, Phrase("see all, answer, record, and change these settings")),
)
SPOKEN: Final = (("", Phrase("as the browser or the farm")), *LANGUAGES.items())
CHOOSE: Final = Phrase("choose a language")
_ADDRESS_AT_MOST: Final = 2000
_ADDRESS: Final = Phrase("an address begins with its service, as mailtos:// for mail")

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)


@router.get("/settings/new-person")
def new(pages: Here) -> Response:
    """Show the form that adds a person."""
    return _new_page(pages, Typed())


@router.post("/settings/new-person")
def add(pages: Here, typed: Sent) -> Response:
    """Add a person, with an address if one is given."""
    farm = pages.desk.farm()
    name = typed.needed("name", Phrase("a name, please"))
    if name.casefold() in {each.name.casefold() for each in farm.people.values()}:
        typed.refuse("name", Phrase("there is somebody of this name already: add a letter"))
    role = typed.one_of("role", [each.value for each in Role], Phrase("choose what they may do"))
    id_ = free_id(farm.people, name, "person")
    secrets = _secret(typed, id_, needed=False)
    changes = [add_person(id_, name, [f"file:{each}" for each in secrets], role=role)]
    if not typed.wrong:
        accounts_of(farm.directory).forget(id_)  # somebody gone may have had this id
    if change(pages, typed, changes, Phrase("{name} added", name=name), secrets):
        return made(f"/settings/people/{id_}")
    return _new_page(pages, typed)


def _new_page(pages: Pages, typed: Typed) -> Response:
    return shown(
        pages, pages.look(), "new_person.html", "/settings", typed, roles=ROLES, spoken=SPOKEN
    )


def _secret(typed: Typed, id_: str, *, needed: bool) -> dict[str, str]:
    """Return the file that is to keep an address, which stands in no page again."""
    address = typed.text("address", _ADDRESS_AT_MOST)
    if not address and not needed:
        return {}
    if "://" not in address or address.startswith(("env:", "file:")):
        typed.refuse("address", _ADDRESS)
    return {f"secrets/{id_}-{token_hex(4)}": f"{address}\n"}


@router.get("/settings/people/{person_id}")
def one(pages: Here, person_id: str, *, done: bool = False) -> Response:
    """Show one person."""
    return _page(pages, Typed(), person_id, done=done)


@router.post("/settings/people/{person_id}")
def edit(pages: Here, person_id: str, typed: Sent) -> Response:
    """Change or take out a person, or an address of theirs."""
    farm = pages.desk.farm()
    person = _known(farm, person_id)
    if typed.form == "out":
        if _left(pages, farm, person, typed):
            return made("/settings")
    elif (_address if typed.form in {"new-address", "old-address"} else _facts)(
        pages, farm, person, typed
    ):
        return made(f"/settings/people/{person.id}")
    return _page(pages, typed, person_id)


def _known(farm: Farm, person_id: str) -> Person:
    if person_id not in farm.people:
        raise UnknownNameError(Phrase("There is nobody of this name on this farm now."))
    return farm.people[person_id]


def _facts(pages: Pages, farm: Farm, person: Person, typed: Typed) -> bool:
    del farm
    values: dict[str, object | None] = {}
    if typed.touched("name"):
        values["name"] = typed.needed("name", Phrase("a name, please"))
    if typed.touched("role"):
        known = [each.value for each in Role]
        values["role"] = typed.one_of("role", known, Phrase("choose what they may do"))
    if typed.touched("language"):
        known = [each for each, _ in SPOKEN]
        values["language"] = typed.one_of("language", known, CHOOSE) or None
    if not values:
        typed.refuse("", Phrase("nothing is different from what it was"))
    what = together((_WORDS[key] for key in values), ", ")
    return change(
        pages,
        typed,
        [set_person(person.id, values)],
        Phrase("{name}: {what} changed", name=person.name, what=what),
    )


_WORDS: Final = {
    "name": Phrase("name"), "role": Phrase("what they may do"), "language": Phrase("language"),
}  # fmt: skip


def _address(pages: Pages, farm: Farm, person: Person, typed: Typed) -> bool:
    if typed.form == "new-address":
        secrets = _secret(typed, person.id, needed=True)
        changes: list[Change] = [add_address(person.id, f"file:{each}") for each in secrets]
        return change(
            pages, typed, changes, Phrase("{name}: address added", name=person.name), secrets
        )
    number = typed.read("number", int) or 0
    if len(person.addresses) == 1:
        _ask_if_last(farm, person, typed)
    changes = [remove_address(person.id, number)]
    return change(
        pages,
        typed,
        changes,
        Phrase("{name}: address {number} taken out", name=person.name, number=number),
    )


def _left(pages: Pages, farm: Farm, person: Person, typed: Typed) -> bool:
    if person.addresses:
        _ask_if_last(farm, person, typed)
    turns = sum(each.person == person.id for each in farm.duty)
    if turns:
        typed.ask(
            Phrase(
                "{name} has turns of duty: they go too, and nobody has them then.", name=person.name
            )
        )
    why = Phrase("{name} taken out: {why}", name=person.name, why=typed.why)
    gone = change(pages, typed, [remove_person(person.id)], why)
    if gone:
        accounts_of(farm.directory).forget(person.id)
    return gone


def _ask_if_last(farm: Farm, person: Person, typed: Typed) -> None:
    others = [each for each in farm.people.values() if each.addresses and each.id != person.id]
    if not others:
        typed.ask(
            Phrase("Nobody else has an address: no phone would ring any more, whatever happens.")
        )


def services(person: Person) -> list[tuple[int, str]]:
    """Return each address by its number and its service; never what leads to a phone."""
    return [
        (number, each.get_secret_value().partition("://")[0])
        for number, each in enumerate(person.addresses, start=1)
    ]


def _page(pages: Pages, typed: Typed, person_id: str, *, done: bool = False) -> Response:
    look: Look = pages.look()
    person = _known(look.farm, person_id)
    return shown(
        pages, look, "person.html", "/settings", _without_address(typed), done=done,
        person=person, roles=ROLES, spoken=SPOKEN, services=services(person),
    )  # fmt: skip


def _without_address(typed: Typed) -> Typed:
    """Return the form with all that was typed but the address, which is shown nowhere again."""
    typed.sent.pop("address", None)
    return typed
