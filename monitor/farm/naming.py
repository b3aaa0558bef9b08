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
from monitor.phrase import Phrase


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


def _named(text: str, among: Mapping[str, T]) -> T | None:
    """Return what has exactly this id, or else this name."""
    wanted = plain(text)
    by_name = {plain(each.name): each for each in among.values()}
    by_id = {plain(each.id): each for each in among.values()}
    return by_id.get(wanted) or by_name.get(wanted)


def _unknown(text: str, among: Mapping[str, T], what: str, where: str) -> UnknownNameError:
    names = [each.name for each in among.values()]
    near = nearest(text, [*names, *among])
    return UnknownNameError(
        Phrase(
            "no {what} is called {text!r}: {hint}{where} has {names}",
            what=what,
            text=text,
            hint=Phrase("did you mean {near}? ", near=near) if near else "",
            where=where,
            names=", ".join(names) or Phrase("none"),
        )
    )


def _find(text: str, among: Mapping[str, T], what: str, where: str) -> T:
    found = _named(text, among)
    if found is None:
        raise _unknown(text, among, what, where)
    return found


def _words(text: str) -> str:
    """Return a text's words between single spaces, so that whole words can be looked for."""
    return f" {slug(text).replace('-', ' ')} "


def find_place(farm: Farm, text: str) -> Place:
    """Return the place of an id or name, or the only one a shorter word fits.

    ``"cooler"`` is the walk-in cooler where no other place has that word in its name or is
    of that kind.

    Raises
    ------
    UnknownNameError
        If the farm has no such place, or several; the message lists them.
    """
    found = _named(text, farm.places)
    if found is not None:
        return found
    wanted = _words(text)
    fitting = [
        each
        for each in farm.places.values()
        if wanted.strip() and any(wanted in _words(one) for one in (each.name, each.id, each.kind))
    ]
    if len(fitting) > 1:
        names = ", ".join(each.name for each in fitting)
        raise UnknownNameError(
            Phrase("{text!r} may be any of {names}: say which", text=text, names=names)
        )
    if not fitting:
        raise _unknown(text, farm.places, Phrase("place"), "farm.toml")
    return fitting[0]


def find_sensor(farm: Farm, text: str) -> Sensor:
    """Return the sensor of an id or name.

    Raises
    ------
    UnknownNameError
        If the farm has no such sensor.
    """
    return _find(text, farm.sensors, Phrase("sensor"), "farm.toml")


def find_crop(farm: Farm, text: str) -> Crop:
    """Return the crop of an id or name.

    Raises
    ------
    UnknownNameError
        If the farm has no such crop.
    """
    return _find(text, farm.crops, Phrase("crop"), "crops.toml")


def find_person(farm: Farm, text: str) -> Person:
    """Return the person of an id or name.

    Raises
    ------
    UnknownNameError
        If the farm has no such person.
    """
    return _find(text, farm.people, Phrase("person"), "people.toml")


def find_stage(crop: Crop, text: str) -> Stage:
    """Return the stage of a crop by its id or name.

    Raises
    ------
    UnknownNameError
        If the crop has no such stage.
    """
    return _find(
        text, crop.stages, Phrase("stage"), Phrase("{crop} in crops.toml", crop=Phrase(crop.name))
    )
