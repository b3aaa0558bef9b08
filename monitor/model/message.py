"""A message as the broker handed it over."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Message:
    """Bytes from a topic, with what is needed to acknowledge them.

    ``connection`` is the number of the connection it came by: an acknowledgement
    belongs to it. ``queued`` says that it came before the fence. ``resumed`` says
    that the broker had kept our session (session present).
    """

    topic: str
    payload: bytes
    qos: int
    message_id: int
    duplicate: bool
    retained: bool
    connection: int
    queued: bool
    resumed: bool
    received_ms: int
