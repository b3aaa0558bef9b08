"""The words of the pages that are not in a template: states, quantities, figures.

Plain words, one page of them; what alarms say has its own words (``monitor.alarms``).
"""

from collections.abc import Mapping
from math import isfinite
from typing import Final, NamedTuple

from monitor.alarms.saying import say_span, say_value
from monitor.model import AlarmState, Batch, Grade, PlaceKind, PlaceState, Quantity, Side
from monitor.phrase import Phrase
from monitor.units import TemperatureUnit

NOT_KNOWN: Final = Phrase("not known")
SETTINGS: Final[str] = "/settings"
NAV: Final[tuple[tuple[str, str], ...]] = (
    ("/", Phrase("Now")),
    ("/batches", Phrase("Batches")),
    ("/alarms", Phrase("Alarms")),
    ("/sensors", Phrase("Sensors")),
    ("/help", Phrase("Help")),
    (SETTINGS, Phrase("Settings")),
)

QUANTITIES: Final[Mapping[Quantity, str]] = {
    Quantity.TEMPERATURE: Phrase("Air"),
    Quantity.HUMIDITY: Phrase("Humidity"),
    Quantity.SOIL_TEMPERATURE: Phrase("Soil"),
    Quantity.DOOR: Phrase("Door"),
    Quantity.MAINS: Phrase("Power"),
    Quantity.BATTERY: Phrase("Battery"),
}
_HARM: Final[Mapping[tuple[Quantity, Side], str]] = {
    (Quantity.HUMIDITY, Side.HIGH): Phrase("too damp"),
    (Quantity.HUMIDITY, Side.LOW): Phrase("too dry"),
}
_BY_SIDE: Final = {Side.HIGH: Phrase("too warm"), Side.LOW: Phrase("too cold")}
_LITTLE: Final[Mapping[str, str]] = {
    "too damp": Phrase("a little damp"), "too dry": Phrase("a little dry"),
    "too warm": Phrase("a little warm"), "too cold": Phrase("a little cold"),
}  # fmt: skip
_SWITCHES: Final = {
    Quantity.DOOR: (Phrase("shut"), Phrase("open")),
    Quantity.MAINS: (Phrase("off"), Phrase("on")),
}
_HALF: Final = 0.5
_MINUTE_MS: Final = 60_000

GRADES: Final[Mapping[Grade, str]] = {
    Grade.PUBLISHED: Phrase("published"),
    Grade.EXTENSION: Phrase("extension or trade advice"),
    Grade.GROWERS: Phrase("what growers say"),
    Grade.COMMON_PRACTICE: Phrase("common practice"),
    Grade.MEMORY: Phrase("from memory, not checked"),
    Grade.FARM: Phrase("the farm's own setting"),
}
ALARM_STATES: Final[Mapping[AlarmState, str]] = {
    AlarmState.NORMAL: Phrase("over"),
    AlarmState.UNACKNOWLEDGED: Phrase("nobody has seen it yet"),
    AlarmState.ACKNOWLEDGED: Phrase("seen"),
    AlarmState.RETURNED_UNACKNOWLEDGED: Phrase("over, but nobody has seen it yet"),
    AlarmState.SHELVED: Phrase("kept quiet for a while"),
    AlarmState.SUPPRESSED: Phrase("expected"),
    AlarmState.OUT_OF_SERVICE: Phrase("switched off for work"),
}
REFUSALS: Final[Mapping[str, str]] = {
    "empty": Phrase("an empty message"),
    "too_large": Phrase("too large"),
    "too_deep": Phrase("too deeply nested"),
    "not_text": Phrase("not text"),
    "not_json": Phrase("not JSON"),
    "duplicate_key": Phrase("a name that stands twice"),
    "not_cbor": Phrase("not CBOR"),
    "not_senml": Phrase("not SenML"),
    "no_channel": Phrase("nothing where it should be"),
    "missing": Phrase("no value in it"),
    "not_a_number": Phrase("not a number"),
    "sensor_fault": Phrase("the sensor says that it is at fault"),
    "unit": Phrase("a unit that does not fit"),
    "impossible": Phrase("a value that cannot be"),
    "time": Phrase("a time that cannot be"),
    "defect": Phrase("a mistake of this program"),
}


class Standing(NamedTuple):
    """How something stands: a state for the style, which way it is out, and the word."""

    state: str
    way: str  # "up", "down" or ""
    word: str


UNKNOWN: Final = Standing(PlaceState.UNKNOWN.value, "", NOT_KNOWN)
KIND_WORDS: Final[Mapping[PlaceKind, str]] = {
    PlaceKind.SPROUTING_ROOM: Phrase("sprouting room"),
    PlaceKind.SOAK_BUCKET: Phrase("soak bucket"),
    PlaceKind.COOLER: Phrase("cooler"),
    PlaceKind.TUNNEL: Phrase("tunnel"),
    PlaceKind.FIELD: Phrase("field"),
    PlaceKind.DRY_STORE: Phrase("dry store"),
}
ENDED: Final = Standing("ended", "", Phrase("ended"))


def standing(state: PlaceState, quantity: Quantity | None, side: Side | None) -> Standing:
    """Return shape and word of a state: ``"too warm"``, ``"a little dry"``, ``"in band"``."""
    if state is PlaceState.UNKNOWN:
        return UNKNOWN
    if state is PlaceState.IN_BAND or side is None or quantity is None:
        return Standing(
            state.value, "", Phrase("in band") if state is PlaceState.IN_BAND else Phrase("out")
        )
    harm = _HARM.get((quantity, side), _BY_SIDE[side])
    word = harm if state is PlaceState.HARM else _LITTLE[harm]
    return Standing(state.value, "up" if side is Side.HIGH else "down", word)


def quantity_name(quantity: Quantity, kind: PlaceKind | None = None) -> str:
    """Return what a quantity is called in a kind of place: a bucket has no air."""
    if quantity is Quantity.TEMPERATURE and kind is PlaceKind.SOAK_BUCKET:
        return Phrase("Water")
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
        return Phrase(
            "{low} to {high}",
            low=say_limit(low, quantity, unit).split(" ")[0],
            high=say_limit(high, quantity, unit),
        )
    if high is not None:
        return Phrase("up to {limit}", limit=say_limit(high, quantity, unit))
    return "—" if low is None else Phrase("{limit} and up", limit=say_limit(low, quantity, unit))


def say_ago(at_ms: int, now_ms: int) -> str:
    """Return ``"2 min ago"``, or ``"just now"`` within a minute."""
    if now_ms - at_ms < _MINUTE_MS:
        return Phrase("just now")
    return Phrase("{span} ago", span=say_span((now_ms - at_ms) / 1000))


def say_refusal(reason: str) -> str:
    """Return why something was refused, in words; an unknown reason without its underscores."""
    return REFUSALS.get(reason, reason.replace("_", " "))


def say_messages(number: int) -> str:
    """Return ``"1 message"`` or ``"1,200 messages"``."""
    return Phrase("1 message") if number == 1 else Phrase("{number:,} messages", number=number)


def batch_name(batch: Batch, crop: str) -> str:
    """Return ``"14 Dawn Apricot"``; the crop where no cultivar was written down."""
    return Phrase("{id} {cultivar}", id=batch.id, cultivar=batch.cultivar or crop)
