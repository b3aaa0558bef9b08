"""A topic that nobody claims becomes a sensor of the farm: what it seems to carry is filled in."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from fastapi import APIRouter, Response
from fastapi.responses import HTMLResponse

from monitor.alarms.saying import say_span
from monitor.farm import Farm
from monitor.farm.editing import NewChannel, NewSensor, add_sensor, free_id
from monitor.farm.naming import slug
from monitor.farm.sheets import FARM
from monitor.intake import Guess, covers, guesses_in, usual_interval_s
from monitor.model import Quantity
from monitor.phrase import Phrase, together
from monitor.report.recorded import ids_used
from monitor.store import UnclaimedTopic
from monitor.web.look import Look
from monitor.web.rendering import Here, Pages
from monitor.web.sensor_lines import sample
from monitor.web.settings.changing import change, made, shown
from monitor.web.settings.sensor_form import FACTS, WARM, read_fact
from monitor.web.settings.typed import Sent, Typed
from monitor.web.words import say_messages

ROWS: Final = 6
TOPIC_AT_MOST: Final = 1000
UNITS: Final = (
    ("", Phrase("choose")),
    ("F", "°F"),
    ("C", "°C"),
    ("K", "K"),
    ("%", "%"),
    ("-", Phrase("yes or no")),
)
KINDS: Final = (
    ("", Phrase("not used")),
    ("temperature", Phrase("temperature (air or water)")),
    ("humidity", Phrase("humidity")),
    ("soil_temperature", Phrase("soil temperature")),
    ("door", Phrase("door")),
    ("mains", Phrase("power")),
    ("battery", Phrase("battery")),
)
_SWITCHES: Final = (Quantity.DOOR, Quantity.MAINS)

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)


@dataclass(frozen=True, slots=True)
class Row:
    """One quantity as it is filled in; ``unit`` is ``-`` for a switch."""

    quantity: str
    path: str
    unit: str


@dataclass(frozen=True, slots=True)
class Topic:
    """A topic that nobody claims, with what is known or guessed of it."""

    topic: str
    heard: str
    sample: str
    every: str
    name: str
    place: str
    rows: tuple[Row, ...]
    taken: bool = False

    @property
    def ready(self) -> bool:
        """Return whether one press is enough."""
        return bool(self.rows and self.every and self.place and all(e.unit for e in self.rows))

    @property
    def seems(self) -> str:
        """Return what it seems to carry, in words."""
        words, units = dict(KINDS), dict(UNITS)
        return together(
            (
                words[each.quantity]
                + (
                    Phrase(" in {units}", units=units[each.unit])
                    if each.unit not in {"", "-"}
                    else ""
                )
                + ("" if each.unit else Phrase(", °F or °C not clear"))
                for each in self.rows
            ),
            ", ",
        )


def topics(look: Look, found: Sequence[UnclaimedTopic]) -> list[Topic]:
    """Return the topics that may become sensors."""
    return [_topic(look, each) for each in found if not _claimed(look.farm, each.topic)]


def _claimed(farm: Farm, topic: str) -> bool:
    return any(covers(each.topic, topic) for each in farm.sensors.values())


def _topic(look: Look, each: UnclaimedTopic) -> Topic:
    every_s = usual_interval_s(each.first_ms, each.last_ms, each.count)
    rows = (
        Row(guess.quantity.value, guess.path or "", _unit(guess))
        for guess in guesses_in(each.guess)
    )
    every = "" if every_s is None else say_span(every_s)
    speaks = Phrase(", about every {every}", every=every) if every else ""
    return Topic(
        each.topic,
        Phrase(
            "{messages}{speaks}, the last {ago}",
            messages=say_messages(each.count),
            speaks=speaks,
            ago=look.ago(each.last_ms),
        ),
        sample(each.sample),
        every,
        _name(each.topic),
        _place(look.farm, each.topic),
        tuple(rows),
    )


def _unit(guess: Guess) -> str:
    return "-" if guess.quantity in _SWITCHES else guess.unit


def _name(topic: str) -> str:
    """Return a name made of a topic's last levels, as a first proposal."""
    levels = [each for each in topic.split("/") if each.strip()]
    words = together(levels[-2:]).replace("_", " ").replace("-", " ").strip()
    return "".join(each for each in words if each.isprintable())[:60].capitalize()


def _place(farm: Farm, topic: str) -> str:
    """Return the only place whose id, name or kind a topic speaks of, else ``""``."""
    said = f"-{slug(topic)}-"
    found = [
        each.id
        for each in farm.places.values()
        if any(f"-{slug(word)}-" in said for word in (each.id, each.name, each.kind))
    ]
    return found[0] if len(found) == 1 else ""


@router.get("/topics")
def one(pages: Here, topic: str = "") -> Response:
    """Show one topic with the form that takes it."""
    return _page(pages, Typed(), topic)


@router.post("/topics")
def adopt(pages: Here, typed: Sent) -> Response:
    """Take a topic as a sensor of the farm."""
    look = pages.look()
    new = _new(look, typed)
    if change(pages, typed, [add_sensor(new)], Phrase("sensor {name} added", name=new.name)):
        return made(f"/sensors/{new.id}")
    return _page(pages, typed, new.topic)


def _page(pages: Pages, typed: Typed, topic: str) -> Response:
    look = pages.look()
    kept = next((each for each in pages.reader().unclaimed() if each.topic == topic), None)
    known = (
        _topic(look, kept) if kept else Topic(topic, Phrase("not heard yet"), "", "", "", "", ())
    )
    rows = [*known.rows, *[Row("", "", "")] * ROWS][: max(len(known.rows) + 1, 2)]
    return shown(
        pages,
        look,
        "topic.html",
        "/sensors",
        typed,
        topic=known,
        rows=rows,
        kinds=KINDS,
        taken=_claimed(look.farm, topic),
        units=UNITS,
        places=[
            ("", Phrase("choose")),
            *((each.id, each.name) for each in look.farm.places.values()),
        ],
    )


def _new(look: Look, typed: Typed) -> NewSensor:
    farm = look.farm
    topic = typed.needed("topic", Phrase("there is no topic"), TOPIC_AT_MOST)
    for each in farm.sensors.values():
        if covers(each.topic, topic):
            typed.refuse("topic", Phrase("it belongs to {name} already", name=each.name))
    facts = {key: read_fact(typed, farm, key) for key in FACTS}
    used = ids_used(farm.sensors, look.desk.ledger.configurations(), FARM, "sensor")
    id_ = free_id(used, facts["name"], "sensor")
    return NewSensor(id=id_, topic=topic, channels=list(_channels(typed)), **facts)


def _channels(typed: Typed) -> Iterator[NewChannel]:
    """Yield what it measures; nothing at all is refused."""
    found: list[Quantity] = []
    for number in range(ROWS + 1):
        word, unit = typed.text(f"quantity.{number}"), typed.text(f"unit.{number}")
        if word not in set(Quantity):
            continue
        quantity = Quantity(word)
        fault = _fault(quantity, unit)
        if quantity in found:
            fault = Phrase("that is there twice: a second one is a sensor of its own")
        if fault:
            typed.refuse(f"quantity.{number}", fault)
        found.append(quantity)
        path = typed.text(f"path.{number}")
        yield NewChannel(quantity, path or None, "" if quantity in _SWITCHES else unit)
    if not found:
        typed.refuse("quantity.0", Phrase("choose what it measures: at least one thing"))


def _fault(quantity: Quantity, unit: str) -> str:
    """Return why a unit does not fit, or ``""``."""
    if quantity in WARM:
        return (
            "" if unit in {"F", "C", "K"} else Phrase("a temperature is in °F, °C or K: choose one")
        )
    if quantity in _SWITCHES:
        return ""
    return "" if unit == "%" else Phrase("that is in %: choose it")
