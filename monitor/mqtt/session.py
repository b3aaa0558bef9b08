"""The session with the broker: one network thread, any number of connections.

The thread drives paho itself, so that nothing else ever touches the socket, an
exception cannot end it unseen, and many acknowledgements leave in one write.
"""

import logging
import secrets
import select
import socket
import threading
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final

from monitor.clock import Clock, monotonic_s
from monitor.model import Message
from monitor.mqtt import client as paho
from monitor.mqtt.acks import Acknowledgements
from monitor.mqtt.connection import Connection
from monitor.mqtt.settings import Protocol, SessionSettings
from monitor.mqtt.status import EventKind, SessionEvent, SessionStatus, Stability

log = logging.getLogger(__name__)

_BURST: Final = 256
_LONGEST_SLEEP_S: Final = 1.0
_STEADY_S: Final = 15.0
_STOP_WAIT_S: Final = 4.0
_CUT_WITHIN_S: Final = 2.0
_CUT_SHORT: Final = 2


@dataclass(slots=True)
class _Counts:
    received: int = 0
    acknowledged: int = 0
    absent: int = 0
    last_heard_ms: int | None = None
    since_ms: int | None = None
    problem: str = "not connected yet"


class Session:
    """Listens to a broker and hands its messages over; ``ack`` answers for them.

    ``on_waiting`` is called from the network thread once when messages wait and
    ``take`` had found none; ``on_event`` for whatever is worth telling.
    """

    def __init__(
        self, settings: SessionSettings, clock: Clock,
        on_waiting: Callable[[], None] = lambda: None,
        on_event: Callable[[SessionEvent], None] = lambda _event: None,
    ) -> None:  # fmt: skip
        paho.build(settings, settings.protocol)  # a bad certificate is told here and now
        self.settings = settings
        self.on_waiting = on_waiting
        self.on_event = on_event
        self._clock = clock
        self._token = secrets.token_hex(8)
        self._version = settings.protocol
        self._queue: deque[Message] = deque()
        self._bytes_in = self._bytes_out = 0  # each is written by one thread
        self._armed = True
        self._acks = Acknowledgements()
        self._counts = _Counts()
        self._stability = Stability()
        self._connection: Connection | None = None
        self._word: bytes | None = None
        self._number = 0
        self._expect = settings.expect_session
        self._closed_early = 0
        self._failures = 0
        self._cut_short = 0
        self._stopping = False
        self._changed = False
        self._wake_in, self._wake_out = socket.socketpair()
        self._wake_in.settimeout(0.0)
        self._wake_out.settimeout(0.0)
        self._thread = threading.Thread(target=self._run, name="mqtt", daemon=True)

    # -- for any thread ----------------------------------------------------------------

    def start(self) -> None:
        """Begin connecting; returns at once."""
        self._thread.start()

    def stop(self) -> None:
        """Send the acknowledgements that are due, disconnect, and end the thread."""
        self._stopping = True
        self._wake()
        if self._thread.ident is not None:
            self._thread.join(_STOP_WAIT_S)
        if not self._thread.is_alive():
            self._wake_in.close()
            self._wake_out.close()

    def take(self, most: int) -> list[Message]:
        """Return up to ``most`` waiting messages, oldest first; ask to be woken if none."""
        queue = self._queue
        full = self._full()
        taken = [queue.popleft() for _ in range(min(most, len(queue)))]
        self._bytes_out += sum(len(each.payload) for each in taken)
        if not taken:
            self._armed = True
            if queue:  # came in between: the wake-up may have been missed
                self._armed = False
                return self.take(most)
        if full:
            self._wake()
        return taken

    def ack(self, messages: Sequence[Message]) -> None:
        """Acknowledge messages, in the order given, each only on its own connection."""
        self._acks.add(messages)
        self._wake()

    def listen(self, filters: Sequence[str], fallback: Sequence[str] = ()) -> None:
        """Listen to other topics from now on, without losing the connection."""
        self.settings = replace(self.settings, filters=tuple(filters), fallback=tuple(fallback))
        self._changed = True
        self._wake()

    def is_own(self, topic: str) -> bool:
        """Return whether a topic is this session talking to itself, or of itself."""
        return topic.startswith(self.settings.own_prefix) or topic == self.settings.topic

    def say(self, payload: bytes) -> None:
        """Publish how the monitor is, retained, where a farm's own topic is set."""
        if self.settings.topic is not None:
            self._word = payload
            self._wake()

    @property
    def alive(self) -> bool:
        """True while the network thread runs."""
        return self._thread.is_alive()

    def status(self) -> SessionStatus:
        """Return a snapshot for health pages."""
        at, counts = self._connection, self._counts
        return SessionStatus(
            connected=at is not None and at.accepted,
            since_ms=counts.since_ms,
            protocol=self._version.value,
            connection=self._number,
            resumed=at is not None and at.resumed,
            listening=at is not None and at.listening,
            past_fence=at is not None and at.hearing.passed,
            last_heard_ms=counts.last_heard_ms,
            received=counts.received,
            acknowledged=counts.acknowledged,
            dropped_acknowledgements=self._acks.dropped,
            waiting=len(self._queue),
            absent_sessions=counts.absent,
            problem=counts.problem,
        )

    def _wake(self) -> None:
        try:
            self._wake_out.send(b"\0")
        except OSError:
            return  # already full of wake-ups, or closed

    # -- the network thread ------------------------------------------------------------

    def took(self, message: Message) -> None:
        """Queue one message; wake whoever takes them if it sleeps."""
        self._counts.received += 1
        self._counts.last_heard_ms = message.received_ms
        self._bytes_in += len(message.payload)
        self._queue.append(message)
        if self._armed:
            self._armed = False
            self.on_waiting()

    def _full(self) -> bool:
        """Return whether so much waits that no more is read."""
        waiting = self._bytes_in - self._bytes_out
        return len(self._queue) >= self.settings.backlog or waiting >= self.settings.backlog_bytes

    def tell(self, kind: EventKind, text: str) -> None:
        """Hand an event on; what the listener does wrong cannot end this thread."""
        if kind is not EventKind.CONNECTED:
            self._counts.problem = text
        try:
            self.on_event(SessionEvent(kind, self._clock.now_ms(), text))
        except Exception:
            log.exception("an event of the broker session was not taken")

    def _run(self) -> None:
        while not self._stopping:
            connection: Connection | None = None
            try:
                connection = self._begin()
                self._serve(connection)
            except OSError as failure:
                self._not_reached(failure)
            except Exception as failure:
                log.exception("the network thread met a defect and goes on")
                self.tell(EventKind.DEFECT, f"a defect in the broker session: {failure!r}")
            try:
                self._over(connection)
            except Exception:
                log.exception("the end of a connection was not taken well")
            self._pause()

    def _not_reached(self, failure: OSError) -> None:
        where = f"{self.settings.host}:{self.settings.port}"
        text = f"no broker at {where}: {failure}; check host and port of [broker], and the network"
        if text != self._counts.problem:
            self.tell(EventKind.UNREACHABLE, text)

    def _begin(self) -> Connection:
        self._number += 1
        self._changed = False
        connection = Connection(
            self.settings, number=self._number, version=self._version, token=self._token,
            clock=self._clock, sink=self, speaks=self._cut_short < _CUT_SHORT,
        )  # fmt: skip
        self._connection = connection
        connection.open()
        return connection

    def _serve(self, connection: Connection) -> None:
        sock = connection.client.socket()
        if sock is None:
            return
        poller = select.poll()
        poller.register(sock.fileno(), select.POLLIN)
        poller.register(self._wake_in.fileno(), select.POLLIN)
        greeted = False
        misc_s = 0.0
        while connection.ended is None and not self._stopping:
            self._turn(connection, poller, sock.fileno())
            if connection.accepted and not greeted:
                greeted = True
                self._greet(connection)
            if self._changed and connection.listening:
                self._changed = False
                connection.change(self.settings)
            if self._word is not None and connection.listening:
                payload, self._word = self._word, None
                connection.publish_status(payload)
            now_s = monotonic_s()
            if now_s >= misc_s:
                misc_s = now_s + _LONGEST_SLEEP_S / 2
                connection.client.loop_misc()
                connection.tick(now_s, reading=not self._full())

    def _turn(self, connection: Connection, poller: select.poll, fileno: int) -> None:
        self._counts.acknowledged += connection.write(self._acks.take)
        if connection.client.socket() is None:
            connection.end("the connection was closed")
        if connection.ended is not None:
            return
        room = not self._full()
        write = select.POLLOUT if connection.wants_write else 0
        poller.modify(fileno, (select.POLLIN if room else 0) | write)
        pending = room and connection.pending
        for ready, what in poller.poll(0 if pending else _LONGEST_SLEEP_S * 500):
            if ready != fileno:
                self._wake_in.recv(4096)
            elif what & ~select.POLLOUT:
                pending = True
        if pending:
            connection.read(_BURST, self._full)

    def _greet(self, connection: Connection) -> None:
        """Note that the broker let us in, and whether it had kept our session."""
        self._closed_early = 0
        self._counts.since_ms = self._clock.now_ms()
        self._counts.problem = ""
        kept = "resumed" if connection.resumed else "new"
        self.tell(EventKind.CONNECTED, f"connected by MQTT {self._version}, session {kept}")
        if self._expect and not connection.resumed:
            self._counts.absent += 1
            self.tell(
                EventKind.SESSION_ABSENT,
                "the broker had kept no session for us: what was sent while we were away is "
                "lost. Check that it stores its sessions (persistence) and when they expire",
            )
        self._expect = True

    def _over(self, connection: Connection | None) -> None:
        """Draw the lessons of a connection that ended, or was never made."""
        if connection is None:
            self._connection = None
            self._failures += 1
            return
        self._connection = None
        if connection.ended is None:
            self._counts.acknowledged += connection.write(self._acks.take)
        connection.close()
        lived_s = monotonic_s() - connection.began_s
        self._failures = 0 if lived_s > _STEADY_S else self._failures + 1
        if self._stopping:
            return
        self._choose_version(connection)
        self._learn_to_be_silent(connection, lived_s)
        reason = connection.ended or self._counts.problem
        self._counts.problem = reason
        if connection.accepted:
            self.tell(EventKind.LOST, reason)
            self._judge_stability(connection, lived_s)
        elif connection.ended is not None and not connection.wrong_version:
            self.tell(EventKind.REFUSED, f"{reason}; check host, user and password of [broker]")

    def _choose_version(self, connection: Connection) -> None:
        """Fall back where MQTT 5 is refused or unanswered, or the door shut twice."""
        if connection.accepted or connection.ended is None:
            return
        self._closed_early += 1
        if connection.wrong_version or connection.unanswered or self._closed_early > 1:
            self._closed_early = 0
            five = self._version is Protocol.V5
            self._version = Protocol.V311 if five else self.settings.protocol

    def _learn_to_be_silent(self, connection: Connection, lived_s: float) -> None:
        """Stop talking to ourselves where it ends the connection.

        Mosquitto 2.0.11 cuts an MQTT 5 connection at a publication it denies (tried).
        """
        cut = connection.listening and not connection.hearing.passed and lived_s < _CUT_WITHIN_S
        self._cut_short = self._cut_short + 1 if cut and not connection.taken_over else 0

    def _judge_stability(self, connection: Connection, lived_s: float) -> None:
        over = connection.taken_over
        if self._stability.ended(monotonic_s(), lived_s, taken_over=over):
            name = self.settings.client_id
            self.tell(
                EventKind.UNSTABLE,
                f"unstable, duplicate id? The broker ends our connection again and again: is "
                f"another program connected as {name!r}? Give each its own client_id",
            )

    def _pause(self) -> None:
        """Wait before the next connection, longer after each failure."""
        if self._stopping:
            return
        wait_s = self.settings.first_wait_s * 2.0 ** min(self._failures, 10)
        until_s = monotonic_s() + min(wait_s, self.settings.longest_wait_s)
        while not self._stopping and (left_s := until_s - monotonic_s()) > 0:
            if select.select([self._wake_in], [], [], left_s)[0]:
                self._wake_in.recv(4096)
