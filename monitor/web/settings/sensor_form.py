"""What both forms of a sensor ask, as it is found and later: its name, its place, its habits."""

from collections.abc import Callable, Mapping
from typing import Final

from monitor.farm import Farm
from monitor.farm.naming import slug
from monitor.model import Quantity
from monitor.phrase import Phrase
from monitor.units import parse_duration_s
from monitor.web.settings.typed import Typed

WARM: Final = (Quantity.TEMPERATURE, Quantity.SOIL_TEMPERATURE)
_GATEWAY_AT_MOST: Final = 60


def read_fact(typed: Typed, farm: Farm, key: str) -> str:
    """Return one of the ``FACTS`` as the files write it; a mistake is kept in the form."""
    return FACTS[key](typed, farm)


def field_of(key: str) -> str:
    """Return the name of the field that asks for a fact."""
    return "every" if key == "interval" else key


def _name(typed: Typed, _: Farm) -> str:
    return typed.needed("name", Phrase("give it a name that says where it hangs"))


def _place(typed: Typed, farm: Farm) -> str:
    return typed.one_of("place", list(farm.places), Phrase("choose the place where it hangs"))


def _interval(typed: Typed, _: Farm) -> str:
    every = typed.needed("every", Phrase("say how often it speaks, as 60 s or 5 min"))
    typed.read("every", parse_duration_s)
    return every


def _hangs(typed: Typed, _: Farm) -> str:
    return typed.text("hangs")


def _gateway(typed: Typed, _: Farm) -> str:
    return slug(typed.text("gateway", _GATEWAY_AT_MOST))


FACTS: Final[Mapping[str, Callable[[Typed, Farm], str]]] = {
    "name": _name, "place": _place, "interval": _interval, "hangs": _hangs, "gateway": _gateway,
}  # fmt: skip
