"""The session against a real mosquitto."""

import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace

import pytest

from monitor.clock import SystemClock
from monitor.model import Message
from monitor.mqtt.session import Session
from monitor.mqtt.settings import Protocol, SessionSettings
from monitor.mqtt.status import EventKind, SessionEvent
from tests.system.brokers import Mosquitto, publish, wait_until

pytestmark = pytest.mark.system
BOTH = pytest.mark.parametrize("version", [Protocol.V5, Protocol.V311])


def settings(broker: Mosquitto, version: Protocol = Protocol.V5) -> SessionSettings:
    """Return settings for a broker without a password."""
    return SessionSettings(
        "127.0.0.1", broker.port, "farm", protocol=version, first_wait_s=0.05, longest_wait_s=0.2
    )


class Heard:
    """A session, with what it told and what came by it."""

    def __init__(self, told_how: SessionSettings) -> None:
        self.events: list[SessionEvent] = []
        self.messages: list[Message] = []
        self.answered = 0
        self.session = Session(told_how, SystemClock(), on_event=self.events.append)

    def take(self) -> list[Message]:
        """Take what waits, and return all readings so far (our own messages left out)."""
        self.messages += self.session.take(100_000)
        return [m for m in self.messages if not self.session.is_own(m.topic)]

    def until(self, count: int) -> list[Message]:
        """Wait until so many readings have come."""
        wait_until(lambda: len(self.take()) >= count)
        return self.take()

    def answer(self) -> None:
        """Acknowledge what was not acknowledged yet, and wait until that is sent."""
        self.session.ack(self.messages[self.answered :])
        self.answered = len(self.messages)
        owed = sum(message.qos for message in self.messages)
        wait_until(lambda: self.session.status().acknowledged >= owed)

    def told(self, kind: EventKind) -> list[str]:
        """Return the texts of one kind of event."""
        return [event.text for event in self.events if event.kind is kind]


@contextmanager
def hearing(how: SessionSettings, *, ready: bool = True) -> Iterator[Heard]:
    """Run a session, past its fence unless told otherwise."""
    heard = Heard(how)
    heard.session.start()
    try:
        if ready:
            wait_until(lambda: heard.session.status().past_fence)
        yield heard
    finally:
        heard.session.stop()


@BOTH
def test_messages_after_the_fence_are_fresh_and_acknowledged(
    mosquitto: Mosquitto, version: Protocol
) -> None:
    """What comes after the fence is not queued, and an acknowledgement reaches the broker."""
    with hearing(settings(mosquitto, version)) as heard:
        publish(mosquitto.port, [("shed/t", b"4.1"), ("shed/t", b"4.2")])
        first, second = heard.until(2)
        assert (first.payload, second.payload) == (b"4.1", b"4.2")
        assert not first.queued
        assert not first.retained
        heard.answer()
        assert heard.session.status().protocol == version
    with hearing(settings(mosquitto, version)) as again:
        assert again.session.status().resumed
        assert again.take() == []


@BOTH
def test_unacknowledged_messages_come_again_before_the_fence(
    mosquitto: Mosquitto, version: Protocol
) -> None:
    """A redelivery in a kept session carries the same message id, the flag, and is queued."""
    with hearing(settings(mosquitto, version)) as heard:
        publish(mosquitto.port, [("shed/t", str(n).encode()) for n in range(5)])
        before = heard.until(5)
    with hearing(settings(mosquitto, version)) as again:
        after = again.until(5)
        assert [(m.message_id, m.payload) for m in after] == [
            (m.message_id, m.payload) for m in before
        ]
        assert all(m.duplicate and m.queued and m.resumed for m in after)


@BOTH
def test_messages_sent_while_away_are_queued(mosquitto: Mosquitto, version: Protocol) -> None:
    """The broker keeps what comes while we are away, and it is marked as queued."""
    with hearing(settings(mosquitto, version)):
        pass
    publish(mosquitto.port, [("shed/t", b"%d" % n) for n in range(1500)])
    with hearing(settings(mosquitto, version), ready=False) as heard:
        seen: list[Message] = []
        while len(seen) < 1500:
            wait_until(lambda: heard.session.status().waiting > 0)
            some = heard.session.take(100)
            heard.session.ack(some)
            seen += [m for m in some if not heard.session.is_own(m.topic)]
        assert [m.payload for m in seen] == [b"%d" % n for n in range(1500)]
        assert all(m.queued for m in seen)
        wait_until(lambda: heard.session.status().past_fence)
        publish(mosquitto.port, [("shed/t", b"new")])
        assert not heard.until(1)[0].queued


def test_an_acknowledgement_of_an_earlier_connection_is_dropped(mosquitto: Mosquitto) -> None:
    """An acknowledgement left from a connection that ended answers for nothing later."""
    with hearing(settings(mosquitto)) as heard:
        publish(mosquitto.port, [("shed/t", b"%d" % n) for n in range(5)])
        early = heard.until(5)
        mosquitto.stop()
        wait_until(lambda: not heard.session.status().connected)
        mosquitto.start()
        wait_until(lambda: heard.session.status().past_fence)
        heard.session.ack(early)
        wait_until(lambda: heard.session.status().dropped_acknowledgements == 5)
        late = heard.until(10)[5:]
        assert [m.payload for m in late] == [m.payload for m in early]
    with hearing(settings(mosquitto)) as again:
        assert len(again.until(5)) == 5


def test_an_absent_session_is_told(mosquitto: Mosquitto) -> None:
    """A broker that kept nothing where an earlier run left a session is told as a gap."""
    with hearing(replace(settings(mosquitto), expect_session=True)) as heard:
        assert len(heard.told(EventKind.SESSION_ABSENT)) == 1
        assert heard.session.status().absent_sessions == 1
    with hearing(replace(settings(mosquitto), expect_session=True)) as again:
        assert again.told(EventKind.SESSION_ABSENT) == []


def test_retained_messages_come_once_with_their_flag(mosquitto: Mosquitto) -> None:
    """A retained message is flagged, and comes only with a subscription that is new."""
    publish(mosquitto.port, [("shed/t", b"4.1")], retain=True)
    with hearing(settings(mosquitto)) as heard:
        (first,) = heard.until(1)
        assert first.retained
        heard.answer()
        publish(mosquitto.port, [("shed/t", b"4.2")], retain=True)
        assert not heard.until(2)[1].retained
        heard.answer()
    with hearing(settings(mosquitto)) as again:
        assert again.take() == []


def test_a_broker_that_comes_back_is_joined_again(mosquitto: Mosquitto) -> None:
    """After the broker ends and returns, the session subscribes and hears again."""
    with hearing(settings(mosquitto)) as heard:
        mosquitto.stop()
        wait_until(lambda: not heard.session.status().connected)
        assert heard.session.alive
        mosquitto.start()
        wait_until(lambda: heard.session.status().past_fence)
        publish(mosquitto.port, [("shed/t", b"4.1")])
        assert heard.until(1)[0].connection > 1


def test_two_clients_with_one_id_are_told_once(mosquitto: Mosquitto) -> None:
    """Two clients that evict each other end in one message that names the id."""
    how = replace(settings(mosquitto), first_wait_s=0.02, longest_wait_s=0.02)
    with hearing(how, ready=False) as one, hearing(how, ready=False) as other:
        wait_until(lambda: bool(one.told(EventKind.UNSTABLE) or other.told(EventKind.UNSTABLE)))
        wait_until(lambda: one.session.status().connection > 12)
        assert len(one.told(EventKind.UNSTABLE)) <= 1
        assert "farm" in (one.told(EventKind.UNSTABLE) + other.told(EventKind.UNSTABLE))[0]


def test_a_client_that_may_not_use_its_own_topic_still_hears(mosquitto: Mosquitto) -> None:
    """Where our own message is forbidden that is told, and readings are heard."""
    (mosquitto.folder / "acl").write_text("topic readwrite shed/#\ntopic read farm/#\n")
    mosquitto.extra += f"acl_file {mosquitto.folder / 'acl'}\n"
    mosquitto.stop()
    mosquitto.start()
    how = replace(settings(mosquitto), filters=("shed/#",), deaf_after_s=0.5)
    with hearing(how, ready=False) as heard:
        wait_until(lambda: heard.told(EventKind.MUTE) != [])
        assert "cormwatch/farm/#" in heard.told(EventKind.MUTE)[0]
        publish(mosquitto.port, [("shed/t", b"4.1")])
        assert heard.until(1)[0].queued
        heard.answer()
        wait_until(lambda: heard.session.status().past_fence)
        publish(mosquitto.port, [("shed/t", b"4.2")])
        assert not heard.until(2)[1].queued
        assert heard.told(EventKind.UNSTABLE) == []


class Relay:
    """A door between session and broker that can swallow what the broker says."""

    def __init__(self, port: int) -> None:
        self.deaf = threading.Event()
        self._to = port
        self._door = socket.create_server(("127.0.0.1", 0))
        self.port: int = self._door.getsockname()[1]
        self.joined = 0
        threading.Thread(target=self._serve, daemon=True).start()

    def _serve(self) -> None:
        while True:
            try:
                near, _ = self._door.accept()
            except OSError:
                return
            self.joined += 1
            far = socket.create_connection(("127.0.0.1", self._to))
            for read, write, swallow in ((near, far, False), (far, near, True)):
                threading.Thread(
                    target=self._pump, args=(read, write, swallow), daemon=True
                ).start()

    def _pump(self, read: socket.socket, write: socket.socket, swallow: bool) -> None:
        with read, write:
            try:
                while data := read.recv(65536):
                    if not (swallow and self.deaf.is_set() and len(data) > len(b"ping")):
                        write.sendall(data)
            except OSError:
                return

    def close(self) -> None:
        """Shut the door."""
        self._door.close()


def test_connected_but_deaf_connects_anew(mosquitto: Mosquitto) -> None:
    """A live connection on which not even our own message comes back is given up."""
    relay = Relay(mosquitto.port)
    how = replace(settings(mosquitto), port=relay.port, probe_every_s=0.6, deaf_after_s=0.5)
    with hearing(how) as heard:
        publish(mosquitto.port, [("shed/t", b"4.1")])
        heard.until(1)
        heard.answer()
        relay.deaf.set()
        acknowledge_all(heard, lambda: heard.told(EventKind.DEAF) != [])
        relay.deaf.clear()
        wait_until(lambda: heard.session.status().connection > 1)
        wait_until(lambda: heard.session.status().past_fence)
        publish(mosquitto.port, [("shed/t", b"4.2")])
        assert heard.until(2)[-1].payload == b"4.2"
    relay.close()


def acknowledge_all(heard: Heard, until: Callable[[], bool]) -> None:
    """Acknowledge whatever comes until something holds."""

    def looked() -> bool:
        some = heard.session.take(100)
        heard.messages += some
        heard.session.ack(some)
        return until()

    wait_until(looked)


@BOTH
def test_what_nobody_takes_is_left_with_the_broker(mosquitto: Mosquitto, version: Protocol) -> None:
    """Over the backlog nothing is read: memory stays bounded, and nothing is lost."""
    with hearing(replace(settings(mosquitto, version), backlog=100)) as heard:
        publish(mosquitto.port, [("shed/t", b"%d" % n) for n in range(3000)], qos=1)
        wait_until(lambda: heard.session.status().waiting >= 100)
        most = 0
        for _ in range(100):
            most = max(most, heard.session.status().waiting)
            time.sleep(0.002)
        assert most < 100 + 300  # what one burst of reading may add
        acknowledge_all(heard, lambda: len(heard.take()) >= 3000)
        assert [m.payload for m in heard.take()] == [b"%d" % n for n in range(3000)]


@pytest.mark.parametrize("qos", [0, 1])
def test_what_nobody_takes_is_bounded_in_bytes_too(mosquitto: Mosquitto, qos: int) -> None:
    """However large the payloads, more than so many bytes and one packet never wait here."""
    large = b"x" * 1_000_000
    with hearing(replace(settings(mosquitto), backlog_bytes=3_000_000)) as heard:
        publish(mosquitto.port, [("shed/t", large)] * 40, qos=qos)
        wait_until(lambda: heard.session.status().waiting >= 3)
        time.sleep(0.3)
        assert heard.session.status().waiting <= 3 + 2  # with our own two small ones
        acknowledge_all(heard, lambda: len(heard.take()) >= 40)
        assert {len(message.payload) for message in heard.take()} == {len(large)}
        publish(mosquitto.port, [("shed/t", b"4.1")])
        assert heard.until(41)[-1].payload == b"4.1"


def test_while_nothing_is_read_nothing_is_judged_deaf(mosquitto: Mosquitto) -> None:
    """Our own message waits behind what nobody takes: the connection is kept, and all of it."""
    how = replace(settings(mosquitto), backlog_bytes=3_000_000, probe_every_s=1.5, deaf_after_s=0.3)
    large = b"x" * 1_000_000
    with hearing(how) as heard:
        acknowledge_all(heard, lambda: heard.session.status().acknowledged >= 2)
        publish(mosquitto.port, [("shed/t", large)] * 20, qos=0)
        wait_until(lambda: heard.session.status().waiting >= 3)
        time.sleep(3.0)
        acknowledge_all(heard, lambda: len(heard.take()) >= 20)
        assert heard.told(EventKind.DEAF) + heard.told(EventKind.MUTE) == []
        assert heard.session.status().connection == 1


def test_a_defect_in_a_listener_does_not_end_the_network_thread(mosquitto: Mosquitto) -> None:
    """An exception in whoever is woken leaves the session connected and hearing."""
    heard = Heard(settings(mosquitto))
    calls: list[int] = []

    def broken() -> None:
        calls.append(1)
        raise RuntimeError("a defect of the listener")

    heard.session.on_waiting = broken
    heard.session.start()
    try:
        wait_until(lambda: heard.session.status().past_fence)
        publish(mosquitto.port, [("shed/t", b"4.1")])
        heard.until(1)
        publish(mosquitto.port, [("shed/t", b"4.2")])
        assert len(heard.until(2)) == 2
        assert heard.session.alive
        assert calls
        assert heard.session.status().connection == 1
    finally:
        heard.session.stop()


def test_a_broker_of_the_old_version_only_is_spoken_to_in_it() -> None:
    """Where MQTT 5 is refused the session falls back to 3.1.1 by itself."""
    door = socket.create_server(("127.0.0.1", 0))
    hellos: list[bytes] = []

    def serve() -> None:
        while len(hellos) < 2:
            near, _ = door.accept()
            with near:
                hellos.append(near.recv(1024))
                near.sendall(b"\x20\x02\x00\x01")  # 3.1.1: unacceptable protocol version

    threading.Thread(target=serve, daemon=True).start()
    how = SessionSettings("127.0.0.1", door.getsockname()[1], "farm", first_wait_s=0.01)
    with hearing(how, ready=False):
        wait_until(lambda: len(hellos) == 2)
    door.close()
    level = hellos[0].index(b"MQTT") + 4
    assert [hello[level] for hello in hellos] == [5, 4]
