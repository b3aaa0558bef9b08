"""Messages go out when their time has come, and not before."""

import threading
from dataclasses import dataclass, field

import pytest

from monitor.errors import BrokerError
from monitor.farm import Broker
from simulator.farm import Published
from simulator.publishing import Publisher, pace
from tests.system.brokers import free_port


@dataclass
class HandClock:
    """A clock that moves on only when it is asked how long to wait."""

    now: int = 0
    waits_s: list[float] = field(default_factory=list)

    def now_ms(self) -> int:
        """Return the time it was moved to. [ms]"""
        return self.now

    def real_seconds(self, judged_s: float) -> float:
        """Let that span pass at once."""
        self.waits_s.append(judged_s)
        self.now += round(judged_s * 1000)
        return 0.0


@dataclass
class Ear(Publisher):
    """A publisher that only remembers, with the time of each message."""

    clock: HandClock
    heard: list[tuple[int, Published]] = field(default_factory=list)

    def publish(self, message: Published) -> None:
        """Remember the message."""
        self.heard.append((self.clock.now, message))


SAID = [Published(at_ms, "farm/a", b"4.1") for at_ms in (500, 1_000, 1_000, 61_000)]


def test_each_message_waits_for_its_time() -> None:
    """None is early; those whose time is past go at once, in order."""
    clock = HandClock(now=800)
    ear = Ear(clock)
    pace(SAID, ear, clock, threading.Event())
    assert [each for _, each in ear.heard] == SAID
    assert [now for now, _ in ear.heard] == [800, 1_000, 1_000, 61_000]


def test_it_ends_between_two_messages_when_asked() -> None:
    """Once stopped, nothing more goes out."""
    clock, stop = HandClock(now=800), threading.Event()
    ear = Ear(clock)
    stop.set()
    pace(SAID, ear, clock, stop)
    assert ear.heard == []


def test_a_broker_that_is_not_there_is_told() -> None:
    """The failure names the address and what to mend."""
    with pytest.raises(BrokerError, match="cannot be reached"), Publisher(
        Broker(port=free_port())
    ):  # fmt: skip
        pytest.fail("nobody listens there")
