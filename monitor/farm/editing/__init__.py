"""Changing the farm's files from a page or a command: the file stays the only truth.

A ``Change`` says what becomes of one file's document; its notes, order and spacing are
kept. ``save`` writes it under a lock, only if the file is still the one that was looked
at, and only if the farm loads with it.
"""

from monitor.farm.editing.instruments import (
    NewChannel,
    NewSensor,
    add_calibration,
    add_sensor,
    free_id,
    remove_sensor,
    set_sensor,
)
from monitor.farm.editing.limits import change_limits, change_stage_limits
from monitor.farm.editing.people import (
    add_address,
    add_person,
    remove_address,
    remove_person,
    set_duty,
    set_person,
)
from monitor.farm.editing.places import add_place, set_place
from monitor.farm.editing.rules import set_rules
from monitor.farm.editing.saving import Change, save
from monitor.farm.editing.stages import set_stage

__all__ = [
    "Change",
    "NewChannel",
    "NewSensor",
    "add_address",
    "add_calibration",
    "add_person",
    "add_place",
    "add_sensor",
    "change_limits",
    "change_stage_limits",
    "free_id",
    "remove_address",
    "remove_person",
    "remove_sensor",
    "save",
    "set_duty",
    "set_person",
    "set_place",
    "set_rules",
    "set_sensor",
    "set_stage",
]
