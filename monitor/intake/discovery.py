"""Topics that no sensor claims: remembered, bounded, with a guess at what they carry."""

import re
from collections import OrderedDict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any, Final, NamedTuple

from monitor.errors import PayloadError
from monitor.intake.number import parse_number, split_label, text_of
from monitor.intake.plan import SENML_UNITS
from monitor.intake.reasons import KEPT_BYTES
from monitor.intake.senml import CBOR_ARRAYS, Record, parse_pack_cbor, parse_pack_json
from monitor.intake.tree import parse_json
from monitor.intake.value import TEMPERATURES, label_unit
from monitor.model import Message, Quantity

MOST_TOPICS: Final = 500
GUESSED_BYTES: Final = 4_096  # a longer message is remembered, not looked into

# What a key or a topic's last level begins with; longer words first.
_WORDS: Final = (
    ("soil", Quantity.SOIL_TEMPERATURE), ("temp", Quantity.TEMPERATURE),
    ("hum", Quantity.HUMIDITY), ("rh", Quantity.HUMIDITY), ("batt", Quantity.BATTERY),
    ("door", Quantity.DOOR), ("contact", Quantity.DOOR), ("mains", Quantity.MAINS),
)  # fmt: skip
_SHORT: Final = {"t": Quantity.TEMPERATURE, "h": Quantity.HUMIDITY}
_CERTAINLY_F: Final = 45.0
_CERTAINLY_C: Final = 20.0
"""Without a label: over the one it is °F, for as °C no place of a farm is so hot; under the
other °C, for as °F it would be a hard frost. Between them both can be (common practice)."""


_ROUND_S: Final = (10, 15, 20, 30, 60, 120, 180, 300, 600, 900, 1200, 1800, 3600)
_BARE: Final = "value"
_WORDED: Final = re.compile(r"(?P<path>.*): (?P<what>[a-z_]+) ?(?P<unit>[CFK%]?)", re.DOTALL)


class Guess(NamedTuple):
    """What a value is likely to be: its path in the message, quantity and unit."""

    path: str | None
    quantity: Quantity
    unit: str


@dataclass(slots=True)
class UnclaimedTopic:
    """A topic heard without a sensor that claims it."""

    topic: str
    first_ms: int
    last_ms: int
    count: int
    sample: bytes
    guesses: tuple[Guess, ...] = ()


class Unclaimed:
    """The unclaimed topics, at most 500: the one heard longest ago gives way."""

    def __init__(self, most: int = MOST_TOPICS) -> None:
        self._most = most
        self._topics: OrderedDict[str, UnclaimedTopic] = OrderedDict()

    def __len__(self) -> int:
        return len(self._topics)

    def __iter__(self) -> Iterator[UnclaimedTopic]:
        return iter(self._topics.values())

    def hear(self, message: Message) -> UnclaimedTopic:
        """Remember one message of a topic that no sensor claims."""
        known = self._topics.get(message.topic)
        if known is None:
            known = UnclaimedTopic(
                message.topic, message.received_ms, message.received_ms, 0, b"",
                guess(message.topic, message.payload),
            )  # fmt: skip
            self._topics[message.topic] = known
            if len(self._topics) > self._most:
                self._topics.popitem(last=False)
        self._topics.move_to_end(message.topic)
        known.last_ms = message.received_ms
        known.count += 1
        known.sample = message.payload[:KEPT_BYTES]
        return known

    def forget(self, topic: str) -> None:
        """Forget a topic: a sensor claims it now."""
        self._topics.pop(topic, None)


def usual_interval_s(first_ms: int, last_ms: int, count: int) -> int | None:
    """Return about how often a topic speaks, as one writes it down; None after one word. [s]"""
    if count < 2:  # noqa: PLR2004 - from one to the next
        return None
    mean_s = (last_ms - first_ms) / 1000 / (count - 1)
    return min(_ROUND_S, key=lambda each: abs(each - mean_s))


def guess(topic: str, payload: bytes) -> tuple[Guess, ...]:
    """Return what a message seems to carry, by its keys, its topic and its labels."""
    if not payload or len(payload) > GUESSED_BYTES:
        return ()
    try:
        if payload[0] in CBOR_ARRAYS:
            return _in_records(parse_pack_cbor(payload))
        start = payload.lstrip()[:1]
        if start == b"[":
            return _in_records(parse_pack_json(payload))
        if start == b"{":
            return tuple(_in_object(parse_json(payload), ""))
        text, label = split_label(text_of(payload))
        number = parse_number(text)
    except PayloadError:
        return ()
    quantity = _quantity(topic.rsplit("/", 1)[-1])
    return () if quantity is None else (_guess(None, quantity, label, number),)


def words(guesses: Iterable[Guess]) -> str:
    """Return guesses in words, as ``t: temperature C; h: humidity %``."""
    return "; ".join(f"{g.path or _BARE}: {g.quantity} {g.unit}".rstrip() for g in guesses)


def guesses_in(text: str) -> tuple[Guess, ...]:
    """Return the guesses that words stand for; what is no guess is left out."""
    found = (_WORDED.fullmatch(each) for each in text.split("; "))
    return tuple(
        Guess(None if each["path"] == _BARE else each["path"], Quantity(each["what"]), each["unit"])
        for each in found
        if each is not None and each["what"] in set(Quantity)
    )


def _in_records(records: Iterable[Record]) -> tuple[Guess, ...]:
    """Return one guess a name; its unit says what it is, and its name where the unit does not."""
    found: dict[str, Guess] = {}
    for each in records:
        name = each.endings[-1]
        kinds, unit = SENML_UNITS.get(each.unit or "", ((), ""))
        named = _quantity(name)
        quantity = named if named in kinds or not kinds else kinds[0]
        if quantity is not None and (unit or each.unit is None):
            found[name] = Guess(name, quantity, unit or _unit(quantity, None, each.number))
    return tuple(found.values())


def _in_object(tree: dict[str, Any], before: str) -> Iterator[Guess]:
    for key, value in tree.items():
        if isinstance(value, dict):
            yield from _in_object(value, f"{before}{key}.")
        quantity = _quantity(key)
        if quantity is not None and isinstance(value, int | float | str):
            label = tree.get(f"{key}_unit", tree.get("unit"))
            yield _guess(before + key, quantity, label if isinstance(label, str) else None, value)


def _quantity(word: str) -> Quantity | None:
    word = word.casefold()
    found = next((quantity for start, quantity in _WORDS if word.startswith(start)), None)
    return found or _SHORT.get(word)


def _guess(path: str | None, quantity: Quantity, label: str | None, value: object) -> Guess:
    if isinstance(value, str):
        text, written = split_label(value)
        try:
            value, label = parse_number(text), label or written
        except PayloadError:
            value = None
    return Guess(path, quantity, _unit(quantity, label, value))


def _unit(quantity: Quantity, label: str | None, value: object) -> str:
    """Return the unit that is named, else the one it must be; nothing where it may be two."""
    if quantity not in TEMPERATURES:
        return "%" if quantity in {Quantity.HUMIDITY, Quantity.BATTERY} else ""
    named = label_unit(label) if label else None
    if named in {"C", "F", "K"}:
        return named
    if not isinstance(value, int | float) or _CERTAINLY_C <= value <= _CERTAINLY_F:
        return ""
    return "F" if value > _CERTAINLY_F else "C"
