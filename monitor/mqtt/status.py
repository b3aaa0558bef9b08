"""How a session stands, and what it tells."""

from collections import deque
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Final


class EventKind(StrEnum):
    """What a session tells of itself."""

    CONNECTED = "connected"
    LOST = "lost"
    UNREACHABLE = "unreachable"  # told once as long as the reason is the same
    REFUSED = "refused"  # the broker does not let us in, or not listen
    SESSION_ABSENT = "session_absent"  # the broker kept nothing for us: a gap
    DEAF = "deaf"
    MUTE = "mute"
    UNSTABLE = "unstable"  # two clients with one id evict each other
    DEFECT = "defect"  # a defect of ours that the network thread survived


@dataclass(frozen=True, slots=True)
class SessionEvent:
    """One thing worth telling; ``text`` says what is wrong and what to do next."""

    kind: EventKind
    at_ms: int
    text: str


@dataclass(frozen=True, slots=True)
class SessionStatus:
    """A snapshot for health pages; times are UTC [ms]."""

    connected: bool
    since_ms: int | None
    protocol: str
    connection: int
    resumed: bool
    listening: bool
    past_fence: bool
    last_heard_ms: int | None
    received: int
    acknowledged: int
    dropped_acknowledgements: int
    waiting: int
    absent_sessions: int
    problem: str


_SPAN_S: Final = 120.0
_SHORT_S: Final = 15.0
_OFTEN: Final = 3


@dataclass(slots=True)
class Stability:
    """Notices that connections are taken over, or die young, again and again."""

    told: bool = False
    _ends_s: deque[float] = field(default_factory=deque)

    def ended(self, now_s: float, lived_s: float, *, taken_over: bool) -> bool:
        """Note the end of a connection; True when it is time to tell, once a spell. [s]"""
        if not taken_over and lived_s > _SHORT_S:
            self._ends_s.clear()
            self.told = False
            return False
        self._ends_s.append(now_s)
        while self._ends_s[0] < now_s - _SPAN_S:
            self._ends_s.popleft()
        if self.told or len(self._ends_s) < _OFTEN:
            return False
        self.told = True
        return True
