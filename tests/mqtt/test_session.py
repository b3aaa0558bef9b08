"""What a session asks of a broker, and what it does where it is refused."""

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace

import pytest

from monitor.clock import SystemClock
from monitor.mqtt.session import Session
from monitor.mqtt.settings import Protocol, SessionSettings
from monitor.mqtt.status import EventKind, SessionEvent
from tests.mqtt.scripted import ScriptedBroker

FENCE = "cormwatch/farm/fence"


class Watched:
    """A session whose events can be waited for."""

    def __init__(self, how: SessionSettings) -> None:
        self.events: list[SessionEvent] = []
        self._news = threading.Condition()
        self.session = Session(how, SystemClock(), self._woken, self._told)

    def _woken(self) -> None:
        with self._news:
            self._news.notify_all()

    def _told(self, event: SessionEvent) -> None:
        with self._news:
            self.events.append(event)
            self._news.notify_all()

    def until(self, holds: Callable[[], bool]) -> None:
        """Wait until something holds, looking at each event and each message."""
        with self._news:
            while not holds():
                taken = self.session.take(100)
                self.session.ack(taken)
                if not taken and not self._news.wait(10):
                    pytest.fail("nothing came within 10 s")

    def told(self, kind: EventKind) -> list[str]:
        """Return the texts of one kind of event."""
        return [event.text for event in self.events if event.kind is kind]


@contextmanager
def watched(how: SessionSettings) -> Iterator[Watched]:
    """Run a session."""
    one = Watched(how)
    one.session.start()
    try:
        yield one
    finally:
        one.session.stop()


@pytest.fixture
def broker() -> Iterator[ScriptedBroker]:
    """Yield a scripted broker that refuses ``#``."""
    scripted = ScriptedBroker(["#"])
    yield scripted
    scripted.close()


def settings(broker: ScriptedBroker) -> SessionSettings:
    """Return settings for the scripted broker."""
    return SessionSettings(
        "127.0.0.1", broker.port, "farm", filters=("shed/#",), protocol=Protocol.V311,
        first_wait_s=0.01, longest_wait_s=0.01,
    )  # fmt: skip


def test_our_own_topic_is_asked_for_where_no_filter_covers_it(broker: ScriptedBroker) -> None:
    """The fence needs its topic, and an overlap could bring messages twice."""
    with watched(settings(broker)) as one:
        one.until(lambda: one.session.status().past_fence)
    assert broker.asked == [["shed/#", FENCE]]


def test_a_refused_wide_filter_falls_back_to_single_topics(broker: ScriptedBroker) -> None:
    """Where a broker forbids ``#`` the declared topics are asked for one by one."""
    how = replace(settings(broker), filters=("#",), fallback=("shed/t", "cooler/t"))
    with watched(how) as one:
        one.until(lambda: one.session.status().past_fence)
        assert one.told(EventKind.REFUSED) == []
    assert broker.asked == [["#"], ["shed/t", "cooler/t", FENCE]]


def test_a_refused_topic_is_told_and_the_others_are_heard(broker: ScriptedBroker) -> None:
    """A topic that may not be read is named, with what to allow."""
    broker.refused = {"cooler/t"}
    how = replace(settings(broker), filters=("shed/t", "cooler/t"), user="monitor", password="x")  # noqa: S106
    with watched(how) as one:
        one.until(lambda: one.session.status().past_fence)
        (text,) = one.told(EventKind.REFUSED)
        assert "cooler/t" in text
        assert "monitor" in text


def test_no_topic_at_all_is_no_connection(broker: ScriptedBroker) -> None:
    """A session that may read nothing says so and tries again."""
    broker.refused = {"shed/#", FENCE}
    with watched(settings(broker)) as one:
        one.until(lambda: len(one.told(EventKind.LOST)) > 1)
        assert "shed/#" in one.told(EventKind.REFUSED)[0]
        assert not one.session.status().listening


def test_other_topics_are_listened_to_without_a_new_connection(broker: ScriptedBroker) -> None:
    """A changed farm changes its subscriptions; what is no longer named is given up."""
    with watched(settings(broker)) as one:
        one.until(lambda: one.session.status().past_fence)
        one.session.listen(["cooler/t"])
    assert broker.asked[-1] == ["cooler/t", FENCE]
    assert broker.given_up == ["shed/#"]
    assert len(broker.asked) == 2


def test_a_broker_that_is_not_there_is_told_once() -> None:
    """The same reason again and again is one event, with what to check."""
    gone = ScriptedBroker()
    gone.close()
    with watched(settings(gone)) as one:
        one.until(lambda: one.told(EventKind.UNREACHABLE) != [])
        assert f"127.0.0.1:{gone.port}" in one.session.status().problem
    assert len(one.told(EventKind.UNREACHABLE)) == 1


def test_a_session_that_was_never_started_stops() -> None:
    """Stopping needs no start before it."""
    session = Session(SessionSettings("127.0.0.1", 1, "farm"), SystemClock())
    session.stop()
    assert not session.alive
