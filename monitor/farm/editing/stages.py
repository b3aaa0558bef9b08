"""Changing a step of a crop's life: its limits and its least and longest time."""

from collections.abc import Mapping

from monitor.errors import UnknownNameError
from monitor.farm.editing.bands import Limits, change_band
from monitor.farm.editing.documents import Table, entries, entry, put
from monitor.farm.editing.saving import Change
from monitor.farm.sheets import CROPS
from monitor.model import Grade, Quantity


def set_stage(
    crop: str,
    stage: str,
    *,
    times: Mapping[str, str | None] | None = None,
    limits: Mapping[Quantity, Limits] | None = None,
    source: str,
) -> Change:
    """Return the change of one stage of a crop.

    Parameters
    ----------
    crop, stage : str
        Their ids.
    times : mapping, optional
        ``least``, ``longest``, ``tell_before`` as written (``"14 d"``); None takes one out.
    limits : mapping, optional
        Limits by quantity.
    source : str
        Who set them and why.

    Raises
    ------
    UnknownNameError
        As it is made, if the crop has no such stage.
    """

    def apply(document: Table) -> None:
        _change(stage_in(document, crop, stage), times or {}, limits or {}, source)

    return Change(CROPS, apply)


def stage_in(document: Table, crop: str, stage: str) -> Table:
    """Return the table of one stage of a crop.

    Raises
    ------
    UnknownNameError
        If the crop has no such stage.
    """
    for each in entries(entry(document, "crop", crop), "stage"):
        if each.get("id") == stage:
            return each
    raise UnknownNameError(f"the crop {crop} has no stage {stage}")


def _change(
    stage: Table,
    times: Mapping[str, str | None],
    limits: Mapping[Quantity, Limits],
    source: str,
) -> None:
    if any(stage.get(key) != value for key, value in times.items()):
        put(stage, {**times, "time_grade": Grade.FARM.value, "time_source": source})
    for quantity, wanted in limits.items():
        change_band(stage, quantity, wanted)
