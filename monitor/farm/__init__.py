"""What the grower declared: the farm's files, loaded and checked."""

from monitor.farm.crop import Crop, Figure, Note, RootRule
from monitor.farm.declared import Broker, Farm, NoticeRules, Person, Place, Tls, Web
from monitor.farm.duty import Duty
from monitor.farm.instruments import Calibration, ChannelSpec, Sensor, calibrated
from monitor.farm.loading import check, load, missing_places
from monitor.farm.mirroring import Mirror
from monitor.farm.naming import (
    find_crop,
    find_person,
    find_place,
    find_sensor,
    find_stage,
    slug,
)
from monitor.farm.problem import Problem
from monitor.farm.recalling import Recalled, declared_ids, places_of_sensors, recall
from monitor.farm.sheets import FILES
from monitor.farm.upkeep import Backup
from monitor.farm.watcher import Card, Phone, Second, Watcher
from monitor.farm.when import format_when, from_now, parse_when

__all__ = [
    "FILES",
    "Backup",
    "Broker",
    "Calibration",
    "Card",
    "ChannelSpec",
    "Crop",
    "Duty",
    "Farm",
    "Figure",
    "Mirror",
    "Note",
    "NoticeRules",
    "Person",
    "Phone",
    "Place",
    "Problem",
    "Recalled",
    "RootRule",
    "Second",
    "Sensor",
    "Tls",
    "Watcher",
    "Web",
    "calibrated",
    "check",
    "declared_ids",
    "find_crop",
    "find_person",
    "find_place",
    "find_sensor",
    "find_stage",
    "format_when",
    "from_now",
    "load",
    "missing_places",
    "parse_when",
    "places_of_sensors",
    "recall",
    "slug",
]  # fmt: skip
