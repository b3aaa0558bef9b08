"""The words of the pages that are not in a template: states, quantities, figures.

Plain words, one page of them; what alarms say has its own words (``monitor.alarms``).
"""

from collections.abc import Mapping
from math import isfinite
from typing import Final, NamedTuple

from monitor.alarms.saying import say_span, say_value
from monitor.model import AlarmState, Batch, Grade, PlaceKind, PlaceState, Quantity, Side
from monitor.units import TemperatureUnit

NOT_KNOWN: Final = "not known"
SETTINGS: Final[str] = "/settings"
NAV: Final[tuple[tuple[str, str], ...]] = (
    ("/", "Now"), ("/batches", "Batches"), ("/alarms", "Alarms"), ("/sensors", "Sensors"),
    ("/help", "Help"), (SETTINGS, "Settings"),
)  # fmt: skip

QUANTITIES: Final[Mapping[Quantity, str]] = {
    Quantity.TEMPERATURE: "Air",
    Quantity.HUMIDITY: "Humidity",
    Quantity.SOIL_TEMPERATURE: "Soil",
    Quantity.DOOR: "Door",
    Quantity.MAINS: "Power",
    Quantity.BATTERY: "Battery",
}
_HARM: Final[Mapping[tuple[Quantity, Side], str]] = {
    (Quantity.HUMIDITY, Side.HIGH): "too damp",
    (Quantity.HUMIDITY, Side.LOW): "too dry",
}
_BY_SIDE: Final = {Side.HIGH: "too warm", Side.LOW: "too cold"}
_SWITCHES: Final = {
    Quantity.DOOR: ("shut", "open"),
    Quantity.MAINS: ("off", "on"),
}
_HALF: Final = 0.5
_MINUTE_MS: Final = 60_000

GRADES: Final[Mapping[Grade, str]] = {
    Grade.PUBLISHED: "published",
    Grade.EXTENSION: "extension or trade advice",
    Grade.GROWERS: "what growers say",
    Grade.COMMON_PRACTICE: "common practice",
    Grade.MEMORY: "from memory, not checked",
    Grade.FARM: "the farm's own setting",
}
ALARM_STATES: Final[Mapping[AlarmState, str]] = {
    AlarmState.NORMAL: "over",
    AlarmState.UNACKNOWLEDGED: "nobody has seen it yet",
    AlarmState.ACKNOWLEDGED: "seen",
    AlarmState.RETURNED_UNACKNOWLEDGED: "over, but nobody has seen it yet",
    AlarmState.SHELVED: "kept quiet for a while",
    AlarmState.SUPPRESSED: "expected",
    AlarmState.OUT_OF_SERVICE: "switched off for work",
}
REFUSALS: Final[Mapping[str, str]] = {
    "empty": "an empty message",
    "too_large": "too large",
    "too_deep": "too deeply nested",
    "not_text": "not text",
    "not_json": "not JSON",
    "duplicate_key": "a name that stands twice",
    "not_cbor": "not CBOR",
    "not_senml": "not SenML",
    "no_channel": "nothing where it should be",
    "missing": "no value in it",
    "not_a_number": "not a number",
    "sensor_fault": "the sensor says that it is at fault",
    "unit": "a unit that does not fit",
    "impossible": "a value that cannot be",
    "time": "a time that cannot be",
    "defect": "a mistake of this program",
}


class Standing(NamedTuple):
    """How something stands: a state for the style, which way it is out, and the word."""

    state: str
    way: str  # "up", "down" or ""
    word: str


UNKNOWN: Final = Standing(PlaceState.UNKNOWN.value, "", NOT_KNOWN)
ENDED: Final = Standing("ended", "", "ended")


def standing(state: PlaceState, quantity: Quantity | None, side: Side | None) -> Standing:
    """Return shape and word of a state: ``"too warm"``, ``"a little dry"``, ``"in band"``."""
    if state is PlaceState.UNKNOWN:
        return UNKNOWN
    if state is PlaceState.IN_BAND or side is None or quantity is None:
        return Standing(state.value, "", "in band" if state is PlaceState.IN_BAND else "out")
    harm = _HARM.get((quantity, side), _BY_SIDE[side])
    word = harm if state is PlaceState.HARM else harm.replace("too", "a little")
    return Standing(state.value, "up" if side is Side.HIGH else "down", word)


def quantity_name(quantity: Quantity, kind: PlaceKind | None = None) -> str:
    """Return what a quantity is called in a kind of place: a bucket has no air."""
    if quantity is Quantity.TEMPERATURE and kind is PlaceKind.SOAK_BUCKET:
        return "Water"
    return QUANTITIES[quantity]


def say_figure(value: float | None, quantity: Quantity, unit: TemperatureUnit) -> str:
    """Return a figure with its unit, a switch as a word, and no figure as a dash."""
    if value is None or not isfinite(value):
        return "—"
    if quantity in _SWITCHES:
        return _SWITCHES[quantity][value >= _HALF]
    if quantity is Quantity.BATTERY:
        return f"{value:.0f} %"
    return say_value(value, quantity, unit)


def say_limit(value: float, quantity: Quantity, unit: TemperatureUnit) -> str:
    """Return a limit, which is a round figure where the grower wrote one."""
    return say_figure(value, quantity, unit).replace(".0 ", " ")


def say_between(
    low: float | None, high: float | None, quantity: Quantity, unit: TemperatureUnit
) -> str:
    """Return ``"36 to 40 °F"``, ``"up to 85 %"``, ``"32 °F and up"``, or a dash."""
    if low is not None and high is not None:
        return (
            f"{say_limit(low, quantity, unit).split(' ')[0]} to {say_limit(high, quantity, unit)}"
        )
    if high is not None:
        return f"up to {say_limit(high, quantity, unit)}"
    return "—" if low is None else f"{say_limit(low, quantity, unit)} and up"


def say_ago(at_ms: int, now_ms: int) -> str:
    """Return ``"2 min ago"``, or ``"just now"`` within a minute."""
    if now_ms - at_ms < _MINUTE_MS:
        return "just now"
    return f"{say_span((now_ms - at_ms) / 1000)} ago"


def say_refusal(reason: str) -> str:
    """Return why something was refused, in words; an unknown reason without its underscores."""
    return REFUSALS.get(reason, reason.replace("_", " "))


def say_messages(number: int) -> str:
    """Return ``"1 message"`` or ``"1,200 messages"``."""
    return "1 message" if number == 1 else f"{number:,} messages"


def batch_name(batch: Batch, crop: str) -> str:
    """Return ``"14 Dawn Apricot"``; the crop where no cultivar was written down."""
    return f"{batch.id} {batch.cultivar or crop}"
