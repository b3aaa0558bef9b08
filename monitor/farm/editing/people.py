"""Who is told, at which addresses, and who is on duty when."""

from collections.abc import Mapping, Sequence

from monitor.errors import UnknownNameError
from monitor.farm.editing.documents import Table, append, entries, entry, put, remove
from monitor.farm.editing.saving import Change
from monitor.farm.sheets import PEOPLE


def add_person(
    id_: str, name: str, addresses: Sequence[str] = (), *, role: str | None = None
) -> Change:
    """Return the change that adds a person; an address is the name of a secret, never itself."""

    def apply(document: Table) -> None:
        fields: dict[str, object] = {"id": id_, "name": name, "addresses": list(addresses)}
        append(document, "person", fields | ({"role": role} if role else {}))

    return Change(PEOPLE, apply)


def set_person(id_: str, values: Mapping[str, object | None]) -> Change:
    """Return the change of a person's ``name``, ``addresses``, ``role`` or ``language``."""

    def apply(document: Table) -> None:
        put(entry(document, "person", id_), values)

    return Change(PEOPLE, apply)


def remove_person(id_: str) -> Change:
    """Return the change that takes a person out, with their turns of duty."""

    def apply(document: Table) -> None:
        remove(document, "person", id_)
        kept = [dict(each) for each in entries(document, "duty") if each.get("person") != id_]
        if len(kept) < len(document.get("duty", [])):
            _put_duty(document, kept)

    return Change(PEOPLE, apply)


def add_address(id_: str, address: str) -> Change:
    """Return the change that gives a person one more address."""

    def apply(document: Table) -> None:
        person = entry(document, "person", id_)
        person["addresses"] = [*person.get("addresses", []), address]

    return Change(PEOPLE, apply)


def remove_address(id_: str, number: int) -> Change:
    """Return the change that takes one of a person's addresses out, counted from one.

    Raises
    ------
    UnknownNameError
        As it is made, if there is none of this number.
    """

    def apply(document: Table) -> None:
        person = entry(document, "person", id_)
        kept = list(person.get("addresses", []))
        if not 1 <= number <= len(kept):
            raise UnknownNameError("that address is not there any more: look at the page again")
        del kept[number - 1]
        person["addresses"] = kept
        if "pictures" in person:
            stay = [each for each in person["pictures"] if each != number]
            person["pictures"] = [each - (each > number) for each in stay]

    return Change(PEOPLE, apply)


def set_duty(turns: Sequence[Mapping[str, object]]) -> Change:
    """Return the change that puts a new list of turns of duty in the place of the old."""

    def apply(document: Table) -> None:
        _put_duty(document, turns)

    return Change(PEOPLE, apply)


def _put_duty(document: Table, turns: Sequence[Mapping[str, object]]) -> None:
    document.pop("duty", None)
    for turn in turns:
        append(document, "duty", {key: value for key, value in turn.items() if value})
