"""Who is told, at which addresses, and who is on duty when."""

from collections.abc import Mapping, Sequence

from monitor.farm.editing.documents import Table, append, entry, put
from monitor.farm.editing.saving import Change
from monitor.farm.sheets import PEOPLE


def add_person(id_: str, name: str, addresses: Sequence[str] = ()) -> Change:
    """Return the change that adds a person; an address is the name of a secret, never itself."""

    def apply(document: Table) -> None:
        append(document, "person", {"id": id_, "name": name, "addresses": list(addresses)})

    return Change(PEOPLE, apply)


def set_person(id_: str, values: Mapping[str, object | None]) -> Change:
    """Return the change of a person's ``name``, ``addresses`` or ``role``."""

    def apply(document: Table) -> None:
        put(entry(document, "person", id_), values)

    return Change(PEOPLE, apply)


def set_duty(turns: Sequence[Mapping[str, object]]) -> Change:
    """Return the change that puts a new list of turns of duty in the place of the old."""

    def apply(document: Table) -> None:
        document.pop("duty", None)
        for turn in turns:
            append(document, "duty", {key: value for key, value in turn.items() if value})

    return Change(PEOPLE, apply)
