"""The paho client of one connection, built from the settings."""

import ssl
from collections.abc import Sequence
from typing import Final

from paho.mqtt.client import Client, topic_matches_sub
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.subscribeoptions import SubscribeOptions

from monitor.errors import BrokerError
from monitor.mqtt.settings import Protocol, SessionSettings, TlsFiles

_CONNECT_TIMEOUT_S = 4.0
_NEW_SUBSCRIPTIONS_ONLY = 1  # retain handling of MQTT 5.0, 3.8.3.1


LARGEST_PACKET: Final = 2 << 20
"""A broker of MQTT 5 sends us nothing larger: whatever is published, our memory is bounded. [B]"""


def build(settings: SessionSettings, protocol: Protocol) -> Client:
    """Return a client that is not connected yet.

    Raises
    ------
    BrokerError
        If a certificate or key file cannot be used.
    """
    five = protocol is Protocol.V5
    client = Client(
        CallbackAPIVersion.VERSION2,
        client_id=settings.client_id,
        clean_session=None if five else False,
        protocol=MQTTProtocolVersion.MQTTv5 if five else MQTTProtocolVersion.MQTTv311,
        manual_ack=True,
        reconnect_on_failure=False,
    )
    client.suppress_exceptions = True
    client.connect_timeout = _CONNECT_TIMEOUT_S
    client.on_socket_register_write = _written_by_our_loop
    client.will_set(settings.status_topic, settings.word("offline"), qos=0, retain=True)
    if settings.user is not None:
        client.username_pw_set(settings.user, settings.password)
    if settings.tls is not None:
        add_tls(client, settings.tls)
    return client


def _written_by_our_loop(_client: Client, _userdata: object, _socket: object) -> None:
    """Let paho queue what it has to say: the session's loop writes it."""


def add_tls(client: Client, tls: TlsFiles) -> None:
    """Give a client its certificate files.

    Raises
    ------
    BrokerError
        If one of them cannot be used.
    """
    for file in (tls.ca_file, tls.cert_file, tls.key_file):
        if file is not None and not file.is_file():
            raise BrokerError(f"broker tls: {file} is no file; name the right one in farm.toml")
    try:
        client.tls_set(
            ca_certs=str(tls.ca_file) if tls.ca_file else None,
            certfile=str(tls.cert_file) if tls.cert_file else None,
            keyfile=str(tls.key_file) if tls.key_file else None,
        )
    except (ssl.SSLError, OSError, ValueError) as failure:
        files = ", ".join(str(f) for f in (tls.ca_file, tls.cert_file, tls.key_file) if f)
        raise BrokerError(
            f"broker tls: {files} cannot be used ({failure}); give PEM files, "
            "the key without a pass phrase and belonging to the certificate"
        ) from failure
    client.tls_insecure_set(not tls.check_host)


def connect(client: Client, settings: SessionSettings, protocol: Protocol) -> None:
    """Open the socket and send CONNECT, keeping the session of this client id."""
    if protocol is Protocol.V311:
        client.connect(settings.host, settings.port, keepalive=settings.keepalive_s)
        return
    properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
    properties.ReceiveMaximum = settings.receive_maximum
    properties.MaximumPacketSize = LARGEST_PACKET
    properties.SessionExpiryInterval = settings.session_expiry_s
    client.connect(
        settings.host,
        settings.port,
        keepalive=settings.keepalive_s,
        clean_start=False,
        properties=properties,
    )


def subscribe(client: Client, filters: Sequence[str], protocol: Protocol) -> int | None:
    """Ask for QoS 1 on every filter; return the message id, None where it was not sent."""
    if protocol is Protocol.V5:
        options = SubscribeOptions(
            qos=1, retainAsPublished=False, retainHandling=_NEW_SUBSCRIPTIONS_ONLY
        )
        _, message_id = client.subscribe([(text, options) for text in filters])
    else:
        _, message_id = client.subscribe([(text, 1) for text in filters])
    return message_id


def with_own(filters: Sequence[str], own_topic: str) -> tuple[str, ...]:
    """Return the filters, with our own topic added where none of them covers it."""
    if any(topic_matches_sub(text, own_topic) for text in filters):
        return tuple(filters)
    return (*filters, own_topic)
