"""A new place, and the plain facts of one that is there."""

from collections.abc import Mapping

from monitor.farm.editing.documents import Table, append, entry, put
from monitor.farm.editing.saving import Change
from monitor.farm.sheets import FARM
from monitor.model import PlaceKind


def add_place(id_: str, name: str, kind: PlaceKind) -> Change:
    """Return the change that adds a place with the bands of its kind."""

    def apply(document: Table) -> None:
        append(document, "place", {"id": id_, "name": name, "kind": kind.value})

    return Change(FARM, apply)


def set_place(id_: str, values: Mapping[str, str | None]) -> Change:
    """Return the change of a place's ``name``, ``first_look``, ``cover``, ``lag`` or ``off_delay``.

    None takes one out: the place then has what its kind has.
    """

    def apply(document: Table) -> None:
        put(entry(document, "place", id_), values)

    return Change(FARM, apply)
