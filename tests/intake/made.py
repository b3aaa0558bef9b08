"""Sensors and messages made for these tests."""

from dataclasses import dataclass, replace

from monitor.intake import Decoded, Decoder
from monitor.model import Message, Quantity

NOW_MS = 1_764_000_000_000  # 2025-11-24 16:00 UTC
MINUTE_MS = 60_000


@dataclass(frozen=True)
class Spec:
    """A declared channel."""

    quantity: Quantity
    path: str | None = None
    unit: str = "C"
    decimal_comma: bool = False


@dataclass(frozen=True)
class Instrument:
    """A declared sensor."""

    channels: tuple[Spec, ...]
    topic: str = "barn/x"
    id: str = "x"
    time_path: str | None = None


T = Instrument((Spec(Quantity.TEMPERATURE),))
J = Instrument((Spec(Quantity.TEMPERATURE, "t"), Spec(Quantity.HUMIDITY, "h", "%")))
BARE_RH = Instrument((Spec(Quantity.HUMIDITY, None, "%"),))


def message(payload: bytes | str, at_ms: int = NOW_MS, topic: str = "barn/x") -> Message:
    """Return a live message as a session hands it over."""
    body = payload.encode() if isinstance(payload, str) else payload
    return Message(topic, body, 1, 7, False, False, 1, False, True, at_ms)  # noqa: FBT003


def queued(payload: bytes | str) -> Message:
    """Return a message that waited at the broker."""
    return replace(message(payload), queued=True)


def retained(payload: bytes | str) -> Message:
    """Return a message that the broker kept for newcomers."""
    return replace(message(payload), retained=True)


def decode(sensor: Instrument, payload: bytes | str) -> Decoded:
    """Decode one live message with a fresh decoder."""
    return Decoder([sensor]).decode(message(payload))


def values(found: Decoded) -> dict[Quantity, float]:
    """Return the readings' values by quantity."""
    return {reading.channel.quantity: reading.raw for reading in found.readings}


def reasons(found: Decoded) -> list[str]:
    """Return why something was refused."""
    return [refusal.reason for refusal in found.refusals]
