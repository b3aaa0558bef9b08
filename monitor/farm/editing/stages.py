"""Changing a step of a crop's life: its least and longest time."""

from collections.abc import Mapping

from monitor.errors import UnknownNameError
from monitor.farm.editing.documents import Table, entries, entry, put
from monitor.farm.editing.saving import Change
from monitor.farm.sheets import CROPS
from monitor.model import Grade


def set_stage(crop: str, stage: str, times: Mapping[str, str | None], source: str) -> Change:
    """Return the change of one stage of a crop; its limits are ``change_stage_limits``'.

    Parameters
    ----------
    crop, stage : str
        Their ids.
    times : mapping
        ``least``, ``longest``, ``tell_before`` as written (``"14 d"``); None takes one out.
    source : str
        Who set them and why.

    Raises
    ------
    UnknownNameError
        As it is made, if the crop has no such stage.
    """

    def apply(document: Table) -> None:
        found = stage_in(document, crop, stage)
        if any(found.get(key) != value for key, value in times.items()):
            put(found, {**times, "time_grade": Grade.FARM.value, "time_source": source})

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
