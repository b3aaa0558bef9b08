"""From a pack of messages to what one commit writes; runs in the writer thread."""

import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from monitor.intake import Decoded, Unclaimed, words
from monitor.model import Flag, Message, Reading, Refusal
from monitor.mqtt.redelivery import Window
from monitor.store import Commit, UnclaimedTopic

log = logging.getLogger(__name__)

_SAMPLE_BYTES = 200


class Decodes(Protocol):
    """What turns a message into readings; never raises."""

    def decode(self, message: Message) -> Decoded:
        """Return what a message says."""


class Stamps(Protocol):
    """What makes receipt times increase strictly per channel."""

    def stamp(self, readings: Sequence[Reading]) -> list[Reading]:
        """Return the readings with their final times."""


@dataclass(slots=True)
class Pack:
    """What a pack of messages brought, before and after it is stored."""

    messages: Sequence[Message]
    readings: Sequence[Reading] = ()
    last_known: list[Reading] = field(default_factory=list)
    refusals: list[Refusal] = field(default_factory=list)
    unclaimed: dict[str, UnclaimedTopic] = field(default_factory=dict)
    heard: dict[str, int] = field(default_factory=dict)
    repeated: int = 0
    window: list[tuple[int, int]] = field(default_factory=list)
    clear_window: bool = False

    def commit(self) -> Commit:
        """Return all of it as one transaction."""
        return Commit(
            readings=self.readings,
            heard=self.heard,
            window=self.window,
            refusals=self.refusals,
            unclaimed=tuple(self.unclaimed.values()),
            clear_window=self.clear_window,
        )


class Preparing:
    """Decodes, recognises what was sent again, and stamps, one pack at a time."""

    def __init__(
        self, decoder: Decodes, stamper: Stamps, window: Window, is_own: Callable[[str], bool],
    ) -> None:  # fmt: skip
        self.decoder = decoder
        self._stamper = stamper
        self.window = window
        self._is_own = is_own
        self.unclaimed = Unclaimed()

    def prepare(self, messages: Sequence[Message]) -> Pack:
        """Return what the messages bring; a message of our own brings nothing."""
        pack = Pack(messages)
        seen, own, take = self.window.seen, self._is_own, self._take
        read: list[Reading] = []
        for message in messages:
            if seen(message):
                pack.repeated += 1
            elif not own(message.topic):
                take(message, pack, read)
        pack.readings = self._stamp(read, pack)
        pack.window, pack.clear_window = self.window.changes()
        return pack

    def _stamp(self, read: list[Reading], pack: Pack) -> list[Reading]:
        try:
            return self._stamper.stamp(read)
        except Exception as defect:
            log.exception("readings could not be stamped for a defect of ours")
            pack.refusals += [unkept(reading, defect) for reading in read]
            return []

    def _take(self, message: Message, pack: Pack, read: list[Reading]) -> None:
        try:
            decoded = self.decoder.decode(message)
        except Exception as defect:
            log.exception("a message could not be decoded for a defect of ours")
            pack.refusals.append(_defect(message, defect))
            return
        if decoded.readings:
            read += decoded.readings
            _hear(decoded, message, pack.heard)
        if decoded.last_known:
            pack.last_known += decoded.last_known
        if decoded.refusals:
            pack.refusals += decoded.refusals
        if decoded.unclaimed:
            self._add_unclaimed(message, pack.unclaimed)

    def _add_unclaimed(self, message: Message, unclaimed: dict[str, UnclaimedTopic]) -> None:
        known = self.unclaimed.hear(message)
        earlier = unclaimed.get(message.topic)
        unclaimed[message.topic] = UnclaimedTopic(
            topic=message.topic,
            first_ms=earlier.first_ms if earlier else message.received_ms,
            last_ms=message.received_ms,
            count=earlier.count + 1 if earlier else 1,
            sample=known.sample,
            guess=words(known.guesses),
        )


def _hear(decoded: Decoded, message: Message, heard: dict[str, int]) -> None:
    """Note when a sensor was heard: queued or retained words count by their own time."""
    if not (message.queued or message.retained):
        for reading in decoded.readings:
            heard[reading.channel.sensor] = message.received_ms
        return
    for reading in decoded.readings:
        if Flag.DEVICE_TIME in reading.flags:
            sensor, at_ms = reading.channel.sensor, min(reading.at_ms, message.received_ms)
            heard[sensor] = max(heard.get(sensor, at_ms), at_ms)


def _defect(message: Message, defect: Exception) -> Refusal:
    return Refusal(
        received_ms=message.received_ms,
        topic=message.topic,
        sensor=None,
        quantity=None,
        reason="defect",
        detail=f"{type(defect).__name__}: {defect}",
        payload=message.payload[:_SAMPLE_BYTES],
    )


def unkept(reading: Reading, defect: Exception) -> Refusal:
    """Return the refusal of a reading that a defect of ours keeps from being stored."""
    return Refusal(
        received_ms=reading.received_ms,
        topic="",
        sensor=reading.channel.sensor,
        quantity=reading.channel.quantity,
        reason="defect",
        detail=f"{type(defect).__name__}: {defect}",
        payload=str(reading.raw).encode(),
    )
