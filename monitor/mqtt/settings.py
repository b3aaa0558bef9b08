"""What a session needs to know of its broker."""

from dataclasses import dataclass, field
from enum import StrEnum
from pathlib import Path
from typing import Final

WEEK_S: Final = 7 * 24 * 3600
RECEIVE_MAXIMUM: Final = 1000


class Protocol(StrEnum):
    """The version of MQTT that is tried first."""

    V5 = "5"
    V311 = "3.1.1"


@dataclass(frozen=True, slots=True)
class TlsFiles:
    """Where the certificates stand; ``ca_file`` None trusts the system's authorities."""

    ca_file: Path | None = None
    cert_file: Path | None = None
    key_file: Path | None = None
    check_host: bool = True


@dataclass(frozen=True, slots=True)
class SessionSettings:
    """How to reach a broker and what to listen to.

    ``fallback`` are single topics, asked for where a broker refuses a wide filter.
    ``expect_session`` says that an earlier run left a session behind: its absence is a
    gap. ``trust_retained`` is False for a broker that flags everything it had queued.
    ``backlog`` and ``backlog_bytes`` bound the messages held in memory: over one nothing is
    read from the broker until some are taken. ``topic`` is where the monitor says that it is
    there, as JSON, where the farm wants that elsewhere than below its own prefix.
    """

    host: str
    port: int
    client_id: str
    filters: tuple[str, ...] = ("#",)
    fallback: tuple[str, ...] = ()
    protocol: Protocol = Protocol.V5
    user: str | None = None
    password: str | None = field(default=None, repr=False)
    tls: TlsFiles | None = None
    expect_session: bool = False
    trust_retained: bool = True
    receive_maximum: int = RECEIVE_MAXIMUM
    session_expiry_s: int = WEEK_S
    keepalive_s: int = 30
    probe_every_s: float = 30.0
    deaf_after_s: float = 10.0
    answer_within_s: float = 5.0
    first_wait_s: float = 0.5
    longest_wait_s: float = 30.0
    backlog: int = 20_000
    backlog_bytes: int = 8 << 20
    topic: str | None = None

    @property
    def own_prefix(self) -> str:
        """Where this session talks to itself: below it nothing is a reading."""
        return f"cormwatch/{self.client_id}/"

    @property
    def fence_topic(self) -> str:
        """The topic of the message that proves we can hear."""
        return f"{self.own_prefix}fence"

    @property
    def status_topic(self) -> str:
        """The retained topic that says whether this monitor is connected."""
        return self.topic or f"{self.own_prefix}status"

    def word(self, state: str) -> bytes:
        """Return what stands at the status topic: the state, as JSON at a topic of the farm's."""
        return b'{"state": "%s"}' % state.encode() if self.topic else state.encode()
