"""Changing what decides on when people are told: ``[notices]`` in the farm's file."""

from collections.abc import Mapping

from monitor.farm.editing.documents import Table, put, under
from monitor.farm.editing.saving import Change
from monitor.farm.sheets import FARM


def set_rules(values: Mapping[str, str | None]) -> Change:
    """Return the change of quiet hours, the morning's hour, reminders or the digest.

    Keys are those of ``[notices]``; None takes one out.
    """

    def apply(document: Table) -> None:
        put(under(document, "notices"), values)

    return Change(FARM, apply)
