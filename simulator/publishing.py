"""Publishing a made-up farm over MQTT, at the pace of a clock that is passed in."""

import secrets
import ssl
import threading
from collections.abc import Iterable
from types import TracebackType
from typing import Final, Protocol, Self

from paho.mqtt.client import Client, ConnectFlags, DisconnectFlags
from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from monitor.errors import BrokerError
from monitor.farm import Broker
from simulator.farm import Published

_CONNECT_S: Final = 10.0
_LAST_S: Final = 5.0
_LOOK_S: Final = 0.5
_MOST_WAITING: Final = 20_000


class Pace(Protocol):
    """What tells the time that messages are due by."""

    def now_ms(self) -> int:
        """Return UTC now. [ms]"""

    def real_seconds(self, judged_s: float) -> float:
        """Return how long to really wait for a span of that time. [s]"""


class Publisher:
    """A connection to a farm's broker, used as a context.

    Parameters
    ----------
    broker : Broker
        Address, user, password and files, as the farm declares them.

    Attributes
    ----------
    sent : int
        Messages handed over.
    taken : int
        Those that the broker has acknowledged.

    Raises
    ------
    BrokerError
        On entering, if the broker cannot be reached or refuses us.
    """

    def __init__(self, broker: Broker) -> None:
        self._broker = broker
        self._answered = threading.Event()
        self._refused = ""
        self._acknowledged = threading.Condition()
        self.sent = 0
        self.taken = 0
        self._client = self._build()

    def _build(self) -> Client:
        five = self._broker.protocol == "5"
        client = Client(
            CallbackAPIVersion.VERSION2,
            client_id=f"cormwatch-simulate-{secrets.token_hex(4)}",
            protocol=MQTTProtocolVersion.MQTTv5 if five else MQTTProtocolVersion.MQTTv311,
        )
        client.max_queued_messages_set(_MOST_WAITING)
        password = self._broker.password
        if self._broker.user is not None:
            secret = None if password is None else password.get_secret_value()
            client.username_pw_set(self._broker.user, secret)
        client.on_connect = self._on_connect
        client.on_publish = self._on_publish
        return client

    def __enter__(self) -> Self:
        broker = self._broker
        where = f"the broker at {broker.host}:{broker.port}"
        try:
            self._secure()
            self._client.connect(broker.host, broker.port)
        except (OSError, ValueError) as failure:
            raise BrokerError(
                f"{where} cannot be reached ({failure}): start it, or mend [broker] in farm.toml"
            ) from failure
        self._client.loop_start()
        answered = self._answered.wait(_CONNECT_S)
        if not answered or self._refused:
            self._client.loop_stop()
            said = self._refused or f"no answer within {_CONNECT_S:g} s"
            raise BrokerError(f"{where} does not let us in ({said}): see [broker] in farm.toml")
        return self

    def __exit__(
        self, kind: type[BaseException] | None, failure: BaseException | None,
        trace: TracebackType | None,
    ) -> None:  # fmt: skip
        if self._client.is_connected():
            self.settle(_LAST_S)
        self._client.disconnect()
        self._client.loop_stop()

    def publish(self, message: Published) -> None:
        """Hand a message over at QoS 1; it is sent again after a lost connection.

        Raises
        ------
        BrokerError
            If the broker has been away for so long that no more can wait.
        """
        handed = self._client.publish(message.topic, message.payload, qos=1)
        if handed.rc == MQTTErrorCode.MQTT_ERR_QUEUE_SIZE:
            raise BrokerError(
                f"{_MOST_WAITING} messages wait for the broker at "
                f"{self._broker.host}:{self._broker.port}: start it again, then simulate anew"
            )
        self.sent += 1

    def settle(self, within_s: float) -> bool:
        """Wait until the broker has taken all; return whether it has in time. [s]"""
        with self._acknowledged:
            return self._acknowledged.wait_for(lambda: self.taken >= self.sent, within_s)

    def _secure(self) -> None:
        tls = self._broker.tls
        if tls is None:
            return
        try:
            self._client.tls_set(
                ca_certs=str(tls.ca_file) if tls.ca_file else None,
                certfile=str(tls.cert_file) if tls.cert_file else None,
                keyfile=str(tls.key_file) if tls.key_file else None,
            )
        except ssl.SSLError as failure:
            raise BrokerError(
                f"the files of [broker.tls] in farm.toml cannot be used ({failure}): give PEM files"
            ) from failure
        self._client.tls_insecure_set(not tls.check_host)

    def _on_connect(
        self, _client: Client, _userdata: object, _flags: ConnectFlags | DisconnectFlags,
        reason: ReasonCode, _properties: Properties | None,
    ) -> None:  # fmt: skip
        self._refused = str(reason) if reason.is_failure else ""
        self._answered.set()

    def _on_publish(
        self, _client: Client, _userdata: object, _number: int, _reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:  # fmt: skip
        with self._acknowledged:
            self.taken += 1
            self._acknowledged.notify_all()


def pace(
    messages: Iterable[Published], publisher: Publisher, clock: Pace, stop: threading.Event
) -> None:
    """Publish messages as the clock reaches them, until they or the patience end.

    Parameters
    ----------
    messages : iterable of Published
        In order of time; those whose time is past go out at once.
    publisher : Publisher
        Where they go.
    clock : Pace
        Real or scaled time.
    stop : threading.Event
        Set it to end between two messages.
    """
    for message in messages:
        while (ahead_ms := message.at_ms - clock.now_ms()) > 0:
            if stop.wait(min(clock.real_seconds(ahead_ms / 1000.0), _LOOK_S)):
                return
        if stop.is_set():
            return
        publisher.publish(message)
