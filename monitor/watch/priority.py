"""How grave each alarm is: consequence times urgency, by kind of alarm and of place.

Only *high* breaks quiet hours; *low* is a line in the morning message. The table is
common practice in the trade (handbook grade CP): there is no published one.
"""

from typing import Final

from monitor.model import AlarmKind, PlaceKind, Priority

_H: Final = Priority.HIGH
_M: Final = Priority.MEDIUM

_BY_PLACE: Final[dict[AlarmKind, dict[PlaceKind, Priority]]] = {
    AlarmKind.TOO_WARM: {
        PlaceKind.COOLER: _H, PlaceKind.SPROUTING_ROOM: _M, PlaceKind.SOAK_BUCKET: _H,
        PlaceKind.TUNNEL: _H, PlaceKind.FIELD: _M, PlaceKind.DRY_STORE: _M,
    },
    AlarmKind.TOO_COLD: {
        PlaceKind.COOLER: _H, PlaceKind.SPROUTING_ROOM: _H, PlaceKind.SOAK_BUCKET: _M,
        PlaceKind.TUNNEL: _H, PlaceKind.FIELD: _M, PlaceKind.DRY_STORE: _H,
    },
    AlarmKind.TOO_DRY: dict.fromkeys(PlaceKind, _M),
    AlarmKind.TOO_WET: dict.fromkeys(PlaceKind, _M),
}  # fmt: skip

_BY_KIND: Final = {
    AlarmKind.SENSOR_SILENT: _M,
    AlarmKind.SENSOR_DOUBTFUL: _M,
    AlarmKind.BATTERY_LOW: Priority.LOW,
    AlarmKind.SENSORS_DARK: _M,
    AlarmKind.MAINS_LOST: _H,
    AlarmKind.DOOR_OPEN: _M,
    AlarmKind.WORKING_HARDER: Priority.LOW,
    AlarmKind.WRONG_PLACE: _H,
    AlarmKind.STORE_FAILED: _H,
    AlarmKind.RECORD_LOST: _H,
    AlarmKind.DISK_FILLING: Priority.LOW,
    AlarmKind.DISK_SHORT: _H,
    AlarmKind.BROKER_LOST: _H,
    AlarmKind.CONFIGURATION_REFUSED: _M,
    AlarmKind.NOTICES_FAILED: _H,
    AlarmKind.FARM_DARK: _H,
}

_GRAVER: Final = {Priority.LOW: _M, _M: _H, _H: _H}

SHORT_WARNING_MS: Final = 12 * 3_600_000


def of_place(kind: AlarmKind, place: PlaceKind, *, held: bool = False) -> Priority:
    """Return the priority of a limit crossed in a kind of place.

    Parameters
    ----------
    kind : AlarmKind
        Which limit.
    place : PlaceKind
        The kind of place.
    held : bool
        Whether something there is held for an order: one step graver.
    """
    plain = _BY_PLACE[kind][place]
    return _GRAVER[plain] if held else plain


def of_kind(kind: AlarmKind) -> Priority:
    """Return the priority of an alarm that no kind of place changes."""
    return _BY_KIND[kind]


def of_silence(place: PlaceKind, *, holds: bool, blind: bool) -> Priority:
    """Return the priority of a silent sensor.

    Parameters
    ----------
    place : PlaceKind
        The kind of place where it hangs.
    holds : bool
        Whether batches stand there by the records.
    blind : bool
        Whether no other sensor is heard from there.
    """
    wakes = holds and blind and place in {PlaceKind.COOLER, PlaceKind.SPROUTING_ROOM}
    return _H if wakes else of_kind(AlarmKind.SENSOR_SILENT)


def of_doubt(place: PlaceKind, *, holds: bool, blind: bool) -> Priority:
    """Return the priority of a sensor that is not believed: as a silent one's.

    Parameters
    ----------
    place : PlaceKind
        The kind of place where it hangs.
    holds : bool
        Whether batches stand there by the records.
    blind : bool
        Whether no other sensor of the place is heard and believed.
    """
    wakes = holds and blind and place in {PlaceKind.COOLER, PlaceKind.SPROUTING_ROOM}
    return _H if wakes else of_kind(AlarmKind.SENSOR_DOUBTFUL)


def of_stage(warning_ms: int) -> Priority:
    """Return the priority of a stage that ends: a warning of hours cannot wait for morning.

    Parameters
    ----------
    warning_ms : int
        How long before the end of the longest time it is told. [ms]
    """
    return _H if warning_ms < SHORT_WARNING_MS else _M
