"""Notices, a clock and a way out made for these tests."""

import threading
from collections.abc import Callable
from dataclasses import dataclass, field

from pydantic import SecretStr

from monitor.courier import Limits, Part, Result
from monitor.courier.transport import SENT, failed
from monitor.model import Notice, NoticeKind

NOW_MS = 1_764_000_000_000
MINUTE_MS = 60_000
ROOMY = Limits(1000, 100)


@dataclass
class HandClock:
    """A clock set by hand, judged and real in one; ``rate`` is judged seconds a real one."""

    now: int = NOW_MS
    real_s: float = 1000.0
    rate: float = 1.0

    def now_ms(self) -> int:
        """Return the judged time. [ms]"""
        return self.now

    def step_ms(self) -> int:
        """Return 0: no jump. [ms]"""
        return 0

    def real_seconds(self, judged_s: float) -> float:
        """Return the real length of a judged span. [s]"""
        return judged_s / self.rate

    def monotonic(self) -> float:
        """Return real time. [s]"""
        return self.real_s

    def advance(self, real_s: float) -> None:
        """Let real time pass, and judged time with it."""
        self.real_s += real_s
        self.now += int(real_s * self.rate * 1000)


@dataclass
class Box:
    """A way out that keeps what it is given, and answers as told."""

    answers: dict[str, Result] = field(default_factory=dict)
    sent: list[tuple[str, Part]] = field(default_factory=list)
    most: Limits = ROOMY
    taken: Callable[[Part], bool] = lambda _: True
    hangs: dict[str, threading.Event] = field(default_factory=dict)
    pictures: list[bytes | None] = field(default_factory=list)
    takes_pictures: bool = True
    in_one: bool = True
    holds_pictures: threading.Event | None = None

    def usable(self, address: SecretStr) -> bool:
        """Return whether the address is one of ours."""
        return address.get_secret_value().startswith("box://")

    def limits(self, _address: SecretStr) -> Limits:
        """Return the limits set."""
        return self.most

    def takes_both(self, _address: SecretStr) -> bool:
        """Return what was set."""
        return self.in_one

    def send(self, address: SecretStr, part: Part, picture: bytes | None = None) -> Result:
        """Keep a message."""
        name = address.get_secret_value()
        if picture is not None and self.holds_pictures is not None:
            self.holds_pictures.wait(30)
        if picture is not None and not self.takes_pictures:
            return failed("error=413", refused=True)
        self.pictures.append(picture)
        if name in self.hangs:
            self.hangs[name].wait(30)
        answer = self.answers.get(name, SENT)
        if answer.sent and not self.taken(part):
            answer = failed("error=400", refused=True)
        self.sent.append((name, part))
        return answer


def notice(
    kind: NoticeKind = NoticeKind.RAISED,
    *,
    alarm: int | None = None,
    title: str = "Walk-in cooler is too warm",
    address: str = "1",
    due_ms: int = NOW_MS,
    priority: str = "high",
) -> Notice:
    """Return a notice to Rue's first address."""
    return Notice(
        0, alarm, kind, "rue", address, title, "Air 7.2 °C. First look: the door.",
        due_ms, due_ms, priority=priority,
    )  # fmt: skip
