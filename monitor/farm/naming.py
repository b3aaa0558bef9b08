"""Finding what a person named: by id or name, whatever the case and the hyphens."""

import re
import unicodedata
from collections.abc import Iterable, Mapping
from difflib import get_close_matches
from typing import Protocol, TypeVar

from monitor.errors import UnknownNameError
from monitor.farm.crop import Crop
from monitor.farm.declared import Farm, Person, Place
from monitor.farm.instruments import Sensor
from monitor.model import Stage


class _Named(Protocol):
    @property
    def id(self) -> str: ...
    @property
    def name(self) -> str: ...


T = TypeVar("T", bound=_Named)


def slug(text: str) -> str:
    """Return a text as an id: ``"Walk-in Cooler"`` becomes ``"walk-in-cooler"``."""
    plain = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", plain.lower()).strip("-")


def plain(text: str) -> str:
    """Return a text without case, spaces, hyphens and underscores, for comparing."""
    return re.sub(r"[\s_-]+", "", unicodedata.normalize("NFKC", text).casefold())


def nearest(text: str, known: Iterable[str]) -> str | None:
    """Return the known name a misspelt one was probably meant to be, if any is near."""
    by_plain = {plain(each): each for each in reversed(list(known))}
    near = get_close_matches(plain(text), by_plain, n=1, cutoff=0.6)
    return by_plain[near[0]] if near else None


def _find(text: str, among: Mapping[str, T], what: str, where: str) -> T:
    wanted = plain(text)
    by_name = {plain(each.name): each for each in among.values()}
    by_id = {plain(each.id): each for each in among.values()}
    if wanted in by_id or wanted in by_name:
        return by_id.get(wanted) or by_name[wanted]
    names = [each.name for each in among.values()]
    near = nearest(text, [*names, *among])
    hint = f"did you mean {near}? " if near else ""
    raise UnknownNameError(
        f"no {what} is called {text!r}: {hint}{where} has {', '.join(names) or 'none'}"
    )


def find_place(farm: Farm, text: str) -> Place:
    """Return the place of an id or name.

    Raises
    ------
    UnknownNameError
        If the farm has no such place; the message lists those it has.
    """
    return _find(text, farm.places, "place", "farm.toml")


def find_sensor(farm: Farm, text: str) -> Sensor:
    """Return the sensor of an id or name.

    Raises
    ------
    UnknownNameError
        If the farm has no such sensor.
    """
    return _find(text, farm.sensors, "sensor", "farm.toml")


def find_crop(farm: Farm, text: str) -> Crop:
    """Return the crop of an id or name.

    Raises
    ------
    UnknownNameError
        If the farm has no such crop.
    """
    return _find(text, farm.crops, "crop", "crops.toml")


def find_person(farm: Farm, text: str) -> Person:
    """Return the person of an id or name.

    Raises
    ------
    UnknownNameError
        If the farm has no such person.
    """
    return _find(text, farm.people, "person", "people.toml")


def find_stage(crop: Crop, text: str) -> Stage:
    """Return the stage of a crop by its id or name.

    Raises
    ------
    UnknownNameError
        If the crop has no such stage.
    """
    return _find(text, crop.stages, "stage", f"{crop.name} in crops.toml")
