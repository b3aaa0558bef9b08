"""Why a message, or one value of it, was refused: counted by these names and shown."""

from enum import StrEnum
from typing import Final

from monitor.model import Message, Quantity, Refusal

KEPT_BYTES: Final = 200
KEPT_TEXT: Final = 160


class Reason(StrEnum):
    """The reasons a refusal is counted under."""

    EMPTY = "empty"
    TOO_LARGE = "too_large"
    TOO_DEEP = "too_deep"
    NOT_TEXT = "not_text"
    NOT_JSON = "not_json"
    DUPLICATE_KEY = "duplicate_key"
    NOT_CBOR = "not_cbor"
    NOT_SENML = "not_senml"
    NO_CHANNEL = "no_channel"  # nothing at any declared path
    MISSING = "missing"  # null, unavailable, unknown
    NOT_A_NUMBER = "not_a_number"
    SENSOR_FAULT = "sensor_fault"  # NaN or infinity
    UNIT = "unit"
    IMPOSSIBLE = "impossible"
    TIME = "time"
    DEFECT = "defect"  # ours: the message is kept so that it can be mended


def shown(value: object) -> str:
    """Return a value as short plain text that any file or page can hold."""
    text = ascii(value)
    return text if len(text) <= KEPT_TEXT else text[: KEPT_TEXT - 3] + "..."


def refusal(
    message: Message,
    reason: str,
    detail: str,
    sensor: str | None = None,
    quantity: Quantity | None = None,
) -> Refusal:
    """Return the record of what was refused, with at most 200 bytes of the message."""
    return Refusal(
        message.received_ms, message.topic, sensor, quantity, reason,
        detail[:KEPT_TEXT], message.payload[:KEPT_BYTES],
    )  # fmt: skip
