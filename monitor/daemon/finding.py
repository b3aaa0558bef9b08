"""Sensors that speak and belong to nobody yet: what was heard of them, and what they seem to be."""

import threading
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from monitor.clock import Clock
from monitor.daemon.listening import embedded_broker
from monitor.daemon.survey import open_reader
from monitor.farm import Farm
from monitor.intake import Guess, Unclaimed, covers, guesses_in, usual_interval_s
from monitor.model import Message
from monitor.mqtt.joining import settings_for
from monitor.mqtt.overhearing import overhear
from monitor.store import UnclaimedTopic
from monitor.units import iso_utc


@dataclass(frozen=True, slots=True)
class Found:
    """One topic: what was heard of it, and what it seems to carry."""

    topic: str
    first_ms: int
    last_ms: int
    count: int
    sample: bytes
    guesses: tuple[Guess, ...]

    @property
    def interval_s(self) -> int | None:
        """Return about how often it speaks, as one would write it down; None after one word."""
        return usual_interval_s(self.first_ms, self.last_ms, self.count)


def remembered(farm: Farm) -> list[Found]:
    """Return what the monitor has heard and no sensor of the farm claims, the latest first."""
    reader = open_reader(farm)
    try:
        topics = reader.unclaimed()
    finally:
        reader.close()
    return [_found(each) for each in topics if not _claimed(farm, each.topic)]


def _found(topic: UnclaimedTopic) -> Found:
    return Found(
        topic.topic, topic.first_ms, topic.last_ms, topic.count, topic.sample,
        guesses_in(topic.guess),
    )  # fmt: skip


def _claimed(farm: Farm, topic: str) -> bool:
    return any(covers(each.topic, topic) for each in farm.sensors.values())


def overheard(
    farm: Farm, seconds: float, clock: Clock, stop: threading.Event | None = None
) -> list[Found]:
    """Return what is published meanwhile and no sensor of the farm claims. [s]

    Raises
    ------
    BrokerError
        If the broker cannot be reached, or refuses us.
    """
    settings = settings_for(farm, expect_session=False, embedded=embedded_broker(farm))
    heard = Unclaimed()

    def took(message: Message) -> None:
        if not message.topic.startswith(settings.own_prefix) and message.topic != settings.topic:
            heard.hear(message)

    overhear(settings, farm.broker.listen, seconds, clock, took, stop=stop)
    return [
        Found(each.topic, each.first_ms, each.last_ms, each.count, each.sample, each.guesses)
        for each in heard
        if not _claimed(farm, each.topic)
    ]


def merged(now: list[Found], before: list[Found]) -> list[Found]:
    """Return what was heard now, then what was heard before of other topics."""
    named = {each.topic for each in now}
    return [*now, *(each for each in before if each.topic not in named)]


def as_json(found: list[Found]) -> Iterator[dict[str, Any]]:
    """Return each topic as ``sensor find --json`` prints it."""
    for each in found:
        yield {
            "topic": each.topic,
            "first_at": iso_utc(each.first_ms),
            "last_at": iso_utc(each.last_ms),
            "count": each.count,
            "interval_s": each.interval_s,
            "sample": each.sample.decode("utf-8", "replace"),
            "channels": [
                {"quantity": guess.quantity, "path": guess.path, "unit": guess.unit or None}
                for guess in each.guesses
            ],
        }


__all__ = ["Found", "as_json", "merged", "overheard", "remembered"]
