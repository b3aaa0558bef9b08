"""Farm days worth watching, by name."""

from collections.abc import Mapping
from typing import Final

from monitor.errors import UnknownNameError
from monitor.farm import Farm
from monitor.model import PlaceKind
from simulator.faults import SENSOR_FAULTS, Fault, FaultKind

QUIET: Final = "quiet-week"

SCENARIOS: Final[Mapping[str, FaultKind | None]] = {
    QUIET: None,
    "cooler-failure": FaultKind.COMPRESSOR_DEAD,
    "tired-cooler": FaultKind.CAPACITY_LOST,
    "frozen-cooler": FaultKind.COOLING_STUCK_ON,
    "open-cooler": FaultKind.DOOR_AJAR,
    "endless-defrost": FaultKind.DEFROST_STUCK_ON,
    "cold-sprouting-room": FaultKind.HEATER_DEAD,
    "hot-sprouting-room": FaultKind.HEATER_STUCK_ON,
    "power-cut": FaultKind.MAINS_OUT,
    "dead-sensor": FaultKind.SENSOR_DEATH,
    "stuck-sensor": FaultKind.STUCK_VALUE,
    "drifting-sensor": FaultKind.DRIFT,
    "dark-gateway": FaultKind.GATEWAY_DARK,
    "frost-night": FaultKind.FROST_NIGHT,
    "closed-tunnel": FaultKind.TUNNEL_CLOSED,
}

_WHERE: Final[Mapping[FaultKind, PlaceKind]] = {
    FaultKind.COMPRESSOR_DEAD: PlaceKind.COOLER,
    FaultKind.CAPACITY_LOST: PlaceKind.COOLER,
    FaultKind.COOLING_STUCK_ON: PlaceKind.COOLER,
    FaultKind.DOOR_AJAR: PlaceKind.COOLER,
    FaultKind.DEFROST_STUCK_ON: PlaceKind.COOLER,
    FaultKind.HEATER_DEAD: PlaceKind.SPROUTING_ROOM,
    FaultKind.HEATER_STUCK_ON: PlaceKind.SPROUTING_ROOM,
    FaultKind.TUNNEL_CLOSED: PlaceKind.TUNNEL,
}


def fault_kind(text: str) -> FaultKind:
    """Return a kind of fault by its name, hyphens and blanks as underscores.

    Raises
    ------
    UnknownNameError
        If there is no such fault; the message names all.
    """
    wanted = text.strip().casefold().replace("-", "_").replace(" ", "_")
    if wanted not in [each.value for each in FaultKind]:
        known = ", ".join(each.value.replace("_", "-") for each in FaultKind)
        raise UnknownNameError(f"there is no fault {text!r}: name one of {known}")
    return FaultKind(wanted)


def fault_at(farm: Farm, kind: FaultKind, start_ms: int, subject: str | None = None) -> Fault:
    """Return a fault in a place or sensor, the first that suits it unless one is named.

    Raises
    ------
    UnknownNameError
        If the farm has nothing that this fault could befall.
    """
    return Fault(kind, start_ms, _subject(farm, kind) if subject is None else subject)


def _subject(farm: Farm, kind: FaultKind) -> str:
    if kind in SENSOR_FAULTS:
        suited, what = list(farm.sensors), "sensor"
    elif kind in _WHERE:
        suited = [each.id for each in farm.places.values() if each.kind is _WHERE[kind]]
        what = _WHERE[kind].value.replace("_", " ")
    else:
        return ""
    if not suited:
        raise UnknownNameError(
            f"the farm has no {what} for a {kind.value.replace('_', ' ')}: "
            "declare one in farm.toml, or name another fault"
        )
    return suited[0]


def scenario(farm: Farm, name: str, start_ms: int) -> tuple[Fault, ...]:
    """Return the faults of a scenario, which begin at ``start_ms``. [ms]

    Raises
    ------
    UnknownNameError
        If there is no such scenario, or the farm lacks the place it plays in.
    """
    if name not in SCENARIOS:
        raise UnknownNameError(f"there is no scenario {name!r}: name one of {', '.join(SCENARIOS)}")
    kind = SCENARIOS[name]
    return () if kind is None else (fault_at(farm, kind, start_ms),)
