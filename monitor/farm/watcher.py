"""Who watches the watcher: heartbeats that go out, and the second watcher that waits for them."""

from dataclasses import dataclass
from typing import Final

from pydantic import SecretStr

LEAST_MISSED: Final = 2
"""So many missed heartbeats at least before a farm is called dark (common practice)."""


@dataclass(frozen=True, slots=True)
class Second:
    """How a second watcher listens, on another computer; ``grace_s`` without a word is dark."""

    name: str
    host: str
    port: int
    secret: SecretStr
    expect_every_s: float = 60.0
    grace_s: float = 600.0


@dataclass(frozen=True, slots=True)
class Watcher:
    """Heartbeats of this farm's monitor: to a URL, to a topic; ``second`` where it is one itself.

    With a ``secret`` the URL is a second watcher of our own: it gets a short summary too, for
    the message it may have to send. ``watches`` is the name it knows us by, the farm's by default.
    """

    heartbeat_url: SecretStr | None = None
    secret: SecretStr | None = None
    method: str = "POST"
    every_s: float = 60.0
    topic: str | None = None
    watches: str = ""
    second: Second | None = None


@dataclass(frozen=True, slots=True)
class Phone:
    """Whom to ring; a number is as it is dialled."""

    name: str
    number: str


@dataclass(frozen=True, slots=True)
class Card:
    """What whoever is on duty does at a place, in the farm's own words."""

    steps: tuple[str, ...] = ()
    phones: tuple[Phone, ...] = ()
    spare: str = ""
