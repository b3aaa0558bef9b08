"""One connection, from CONNECT to its end; only the network thread touches it."""

import select
import ssl
from collections.abc import Callable, Sequence
from typing import Final
from typing import Protocol as Interface

from paho.mqtt.client import Client, ConnectFlags, DisconnectFlags, MQTTMessage
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from monitor.clock import Clock, monotonic_s
from monitor.model import Message
from monitor.mqtt import client as paho
from monitor.mqtt.hearing import Hearing, Hears
from monitor.mqtt.settings import Protocol, SessionSettings
from monitor.mqtt.status import EventKind

_TAKEN_OVER: Final = 0x8E  # MQTT 5.0, table 2-6
_WRONG_VERSION: Final = 0x84
_GOODBYE_S: Final = 0.5
_UNREADABLE: Final = "(topic is no UTF-8)"


class Sink(Interface):
    """Where a connection hands what it hears."""

    def took(self, message: Message) -> None:
        """Take one message."""

    def tell(self, kind: EventKind, text: str) -> None:
        """Take something worth telling."""


class Connection:
    """The paho client of one connection, its fence and its counts."""

    def __init__(
        self, settings: SessionSettings, *, number: int, version: Protocol, token: str,
        clock: Clock, sink: Sink, speaks: bool = True,
    ) -> None:  # fmt: skip
        self.number = number
        self.version = version
        self.accepted = self.resumed = self.listening = False
        self.taken_over = self.wrong_version = self.unanswered = False
        self.ended: str | None = None
        self.began_s = monotonic_s()
        self.received = 0
        self.outstanding = 0
        self.hearing = Hearing(token, number, settings.probe_every_s, settings.deaf_after_s)
        self._settings = settings
        self._now_ms = clock.now_ms
        self._sink = sink
        self._asked: dict[int, tuple[str, ...]] = {}
        self._fell_back = False
        self._speaks = speaks
        self._listens_since_s = 0.0
        self._probe_id: int | None = None
        self._goodbye_id: int | None = None
        self._rest = b""
        self.client = paho.build(settings, version)
        self.client.on_connect = self._on_connect
        self.client.on_disconnect = self._on_disconnect
        self.client.on_message = self._on_message
        self.client.on_subscribe = self._on_subscribe
        self.client.on_publish = self._on_publish

    def open(self) -> None:
        """Connect; OSError where the broker cannot be reached."""
        paho.connect(self.client, self._settings, self.version)

    def end(self, reason: str) -> None:
        """Note why this connection is over; the first reason stands."""
        if self.ended is None:
            self.ended = reason

    # -- what paho tells ---------------------------------------------------------------

    def _on_connect(
        self, _client: Client, _data: object, flags: ConnectFlags, reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:  # fmt: skip
        if reason.is_failure:
            self.wrong_version = reason.value == _WRONG_VERSION
            self.end(f"the broker refuses us: {reason}")
            return
        self.accepted = True
        self.resumed = flags.session_present
        self.ask(self._settings.filters)

    def _on_disconnect(
        self, _client: Client, _data: object, flags: DisconnectFlags, reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:  # fmt: skip
        self.taken_over = flags.is_disconnect_packet_from_server and reason.value == _TAKEN_OVER
        self.end(f"the connection was closed: {reason}")

    def _on_message(self, _client: Client, _data: object, packet: MQTTMessage) -> None:
        self.received += 1
        if packet.qos:
            self.outstanding += 1
        try:
            topic = packet.topic
        except UnicodeDecodeError:
            topic = _UNREADABLE
        payload = bytes(packet.payload)
        if topic == self._settings.fence_topic:
            self.hearing.came(payload)
        queued = not self.hearing.passed
        retained = packet.retain and (self._settings.trust_retained or not queued)
        self._sink.took(
            Message(
                topic, payload, packet.qos, packet.mid, packet.dup, retained,
                self.number, queued, self.resumed, self._now_ms(),
            )
        )  # fmt: skip

    def _on_subscribe(
        self, _client: Client, _data: object, mid: int, reasons: Sequence[ReasonCode],
        _properties: Properties | None,
    ) -> None:  # fmt: skip
        own, asked = self._settings.fence_topic, self._asked.pop(mid, ())
        denied = {text for text, why in zip(asked, reasons, strict=False) if why.is_failure}
        if own in denied:
            self._mute()
        refused = [text for text in asked if text in denied and text != own]
        if refused and self._settings.fallback and not self._fell_back:
            self._fell_back = True
            self.ask(self._settings.fallback)
        elif refused and all(text in denied for text in asked if text != own):
            self._refused(refused)
            self.end(f"the broker refuses every subscription: {', '.join(refused)}")
        else:
            if refused:
                self._refused(refused)
            self._listen()

    def _refused(self, filters: Sequence[str]) -> None:
        self._sink.tell(
            EventKind.REFUSED,
            f"the broker refuses to let us listen to {', '.join(filters)}: "
            f"allow user {self._settings.user or '(none)'} to read it",
        )

    def _on_publish(
        self, _client: Client, _data: object, mid: int, reason: ReasonCode, _properties: Properties
    ) -> None:
        if mid == self._goodbye_id:
            self._goodbye_id = None
        if mid == self._probe_id and reason.is_failure:
            self._mute()

    # -- what we do --------------------------------------------------------------------

    def ask(self, filters: Sequence[str]) -> None:
        """Subscribe, our own topic included."""
        wanted = paho.with_own(filters, self._settings.fence_topic)
        message_id = paho.subscribe(self.client, wanted, self.version)
        if message_id is not None:
            self._asked[message_id] = wanted

    def change(self, settings: SessionSettings) -> None:
        """Listen by other settings: give up what they do not name, ask for the rest."""
        kept = paho.with_own(settings.filters, settings.fence_topic)
        had = (*self._settings.filters, *self._settings.fallback, settings.fence_topic)
        self._settings, self._fell_back = settings, False
        for text in set(had).difference(kept):
            self.client.unsubscribe(text)
        self.ask(settings.filters)

    def _listen(self) -> None:
        if self.listening:
            return
        self.listening = True
        self._listens_since_s = monotonic_s()
        if not self._speaks:
            self._mute()
            return
        self.publish_status(self._settings.word("online"))
        self._probe(self._listens_since_s)

    def publish_status(self, payload: bytes) -> int:
        """Publish how the monitor is, retained; return the message's id."""
        return self.client.publish(self._settings.status_topic, payload, qos=1, retain=True).mid

    def _probe(self, now_s: float) -> None:
        payload = self.hearing.send(now_s, self.received)
        self._probe_id = self.client.publish(self._settings.fence_topic, payload, qos=1).mid

    def _mute(self) -> None:
        if self.hearing.mute:
            return
        self.hearing.mute = True
        prefix = self._settings.own_prefix
        self._sink.tell(
            EventKind.MUTE,
            "the broker does not deliver our own message, so what it had queued cannot be "
            f"told from what is new: allow this client to read and write {prefix}#",
        )

    def tick(self, now_s: float, *, reading: bool = True) -> None:
        """Publish the message to ourselves when it is due, and judge whether we hear. [s]"""
        if not reading:
            self.hearing.not_reading(now_s)
        if not self.listening:
            if now_s > self.began_s + self._settings.answer_within_s:
                self.unanswered = not self.accepted
                self.end("the broker did not answer in time")
            return
        if self.hearing.mute:
            rested = now_s >= self._listens_since_s + self._settings.deaf_after_s
            self.hearing.passed |= rested and self.outstanding == 0
        elif now_s >= self.hearing.due_at_s():
            self._probe(now_s)
        else:
            self._judge(self.hearing.verdict(now_s, self.received, self.outstanding))

    def _judge(self, hears: Hears) -> None:
        if hears is Hears.DEAF:
            text = "connected but deaf: nothing comes, not even our own message; connecting anew"
            self._sink.tell(EventKind.DEAF, text)
            self.end(text)
        elif hears is Hears.MUTE:
            self._mute()

    def read(self, most: int, full: Callable[[], bool] = lambda: False) -> None:
        """Take what the socket holds, up to about ``most`` messages, or until it is enough."""
        until = self.received + most
        before = -1
        while self.ended is None and before != self.received < until and not full():
            before = self.received
            self.client.loop_read()

    def write(self, acknowledgements: Callable[[int], bytes]) -> int:
        """Write what is due, paho's packets and ours never interleaved; return acks sent."""
        if self._rest and not self._send(b""):
            return 0
        if self.client.want_write():
            self.client.loop_write()
            if self.client.want_write():
                return 0
        pack = acknowledgements(self.number)
        if not pack:
            return 0
        self._send(pack)
        count = len(pack) // 4
        self.outstanding -= count
        return count

    def _send(self, more: bytes) -> bool:
        """Send what was left over and more; True when nothing is left."""
        self._rest += more
        socket = self.client.socket()
        if socket is None:
            return False
        try:
            sent = socket.send(self._rest)
        except (BlockingIOError, ssl.SSLWantReadError, ssl.SSLWantWriteError):
            return False
        except OSError as failure:
            self.end(f"the connection broke: {failure}")
            return False
        self._rest = self._rest[sent:]
        return not self._rest

    @property
    def wants_write(self) -> bool:
        """True while something is still to be written."""
        return bool(self._rest) or self.client.want_write()

    @property
    def pending(self) -> bool:
        """True while TLS holds bytes that the selector does not see."""
        socket = self.client.socket()
        return isinstance(socket, ssl.SSLSocket) and socket.pending() > 0

    def close(self) -> None:
        """Say goodbye, keeping the session, and close the socket.

        The broker's answer to the goodbye proves that it has taken every acknowledgement
        before it: closing without it may throw them away.
        """
        try:
            if self.accepted and not self._rest and self.client.socket() is not None:
                self._goodbye()
                self.client.disconnect()
                self.client.loop_write()
        finally:
            left = self.client.socket()
            if left is not None:
                left.close()

    def _goodbye(self) -> None:
        self._goodbye_id = self.publish_status(self._settings.word("offline"))
        until_s = monotonic_s() + _GOODBYE_S
        while self._goodbye_id is not None and self.ended is None and monotonic_s() < until_s:
            self.client.loop_write()
            socket = self.client.socket()
            if socket is not None and select.select([socket], [], [], 0.05)[0]:
                self.read(1)
