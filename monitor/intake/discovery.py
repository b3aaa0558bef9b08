"""Topics that no sensor claims: remembered, bounded, with a guess at what they carry."""

from collections import OrderedDict
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final, NamedTuple

from monitor.errors import PayloadError
from monitor.intake.number import parse_number, split_label, text_of
from monitor.intake.reasons import KEPT_BYTES
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


def guess(topic: str, payload: bytes) -> tuple[Guess, ...]:
    """Return what a message seems to carry, by its keys, its topic and its labels."""
    if len(payload) > GUESSED_BYTES:
        return ()
    try:
        if payload.lstrip()[:1] == b"{":
            return tuple(_in_object(parse_json(payload), ""))
        number, label = split_label(text_of(payload))
        parse_number(number)
    except PayloadError:
        return ()
    quantity = _quantity(topic.rsplit("/", 1)[-1])
    return () if quantity is None else (_guess(None, quantity, label),)


def _in_object(tree: dict[str, Any], before: str) -> Iterator[Guess]:
    for key, value in tree.items():
        if isinstance(value, dict):
            yield from _in_object(value, f"{before}{key}.")
        quantity = _quantity(key)
        if quantity is not None and isinstance(value, int | float | str):
            label = tree.get(f"{key}_unit", tree.get("unit"))
            yield _guess(before + key, quantity, label if isinstance(label, str) else None)


def _quantity(word: str) -> Quantity | None:
    word = word.casefold()
    found = next((quantity for start, quantity in _WORDS if word.startswith(start)), None)
    return found or _SHORT.get(word)


def _guess(path: str | None, quantity: Quantity, label: str | None) -> Guess:
    named = label_unit(label) if label else None
    if quantity in TEMPERATURES:
        return Guess(path, quantity, named if named in {"C", "F", "K"} else "C")
    return Guess(path, quantity, "%" if quantity in {Quantity.HUMIDITY, Quantity.BATTERY} else "")
