"""Listening to a broker for a while, beside the monitor: nothing is kept or acknowledged late."""

import secrets
import threading
from collections.abc import Callable, Sequence
from typing import Final

from paho.mqtt.client import Client, ConnectFlags, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from monitor.clock import Clock
from monitor.errors import BrokerError
from monitor.model import Message
from monitor.mqtt.client import add_tls
from monitor.mqtt.settings import SessionSettings

_CONNECT_S: Final = 10.0


def overhear(
    settings: SessionSettings,
    filters: Sequence[str],
    seconds: float,
    clock: Clock,
    heard: Callable[[Message], None],
    *,
    stop: threading.Event | None = None,
) -> None:
    """Hand over what is published for so long, by a session of its own that leaves no trace.

    Retained messages are left out: how old they are nobody knows. ``heard`` is called
    from the network's thread. [s]

    Raises
    ------
    BrokerError
        If the broker cannot be reached, or refuses us.
    """
    ear = _Ear(settings, filters, lambda packet: heard(_message(packet, clock.now_ms())))
    ear.open()
    try:
        ear.wait_until_listening()
        (stop or threading.Event()).wait(seconds)
    finally:
        ear.close()


class _Ear:
    """One connection that only listens."""

    def __init__(
        self,
        settings: SessionSettings,
        filters: Sequence[str],
        took: Callable[[MQTTMessage], None],
    ) -> None:
        self._settings = settings
        self._filters = filters
        self._took = took
        self._answered = threading.Event()
        self._refused = ""
        self._where = f"{settings.host}:{settings.port}"
        self._client = Client(  # 3.1.1 is what every broker understands
            CallbackAPIVersion.VERSION2,
            client_id=f"cormwatch-find-{secrets.token_hex(4)}",
            protocol=MQTTProtocolVersion.MQTTv311,
        )
        if settings.user is not None:
            self._client.username_pw_set(settings.user, settings.password)
        if settings.tls is not None:
            add_tls(self._client, settings.tls)
        self._client.on_connect = self._on_connect
        self._client.on_message = self._on_message
        self._client.on_subscribe = self._on_subscribe

    def open(self) -> None:
        try:
            self._client.connect(self._settings.host, self._settings.port)
        except OSError as failure:
            raise BrokerError(
                f"the broker at {self._where} cannot be reached ({failure}): is it running, and "
                "is [broker] in farm.toml right?"
            ) from failure
        self._client.loop_start()

    def wait_until_listening(self) -> None:
        if not self._answered.wait(_CONNECT_S) or self._refused:
            raise BrokerError(
                f"the broker at {self._where} refuses us ({self._refused or 'no answer'}): look at "
                "user and password under [broker] in farm.toml"
            )

    def close(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()

    def _on_connect(
        self, client: Client, _data: object, _flags: ConnectFlags, reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:  # fmt: skip
        if reason.is_failure:
            self._refused = str(reason)
            self._answered.set()
        else:
            client.subscribe([(each, 0) for each in self._filters])

    def _on_subscribe(
        self, _client: Client, _data: object, _mid: int, reasons: Sequence[ReasonCode],
        _properties: Properties | None,
    ) -> None:  # fmt: skip
        if reasons and all(each.is_failure for each in reasons):
            self._refused = f"nothing may be listened to: {reasons[0]}"
        self._answered.set()

    def _on_message(self, _client: Client, _data: object, packet: MQTTMessage) -> None:
        if not packet.retain:
            self._took(packet)


def _message(packet: MQTTMessage, now_ms: int) -> Message:
    return Message(
        topic=packet.topic,
        payload=bytes(packet.payload),
        qos=packet.qos,
        message_id=packet.mid,
        duplicate=packet.dup,
        retained=False,
        connection=0,
        queued=False,
        resumed=False,
        received_ms=now_ms,
    )
