"""From the farm's files to a session with its broker."""

from dataclasses import replace

from pydantic import SecretStr

from monitor.farm import Broker, Farm
from monitor.intake import subscriptions
from monitor.mqtt.client import build
from monitor.mqtt.embedded import EmbeddedBroker, password_from
from monitor.mqtt.settings import Protocol, SessionSettings, TlsFiles

PASSWORD_FILE = "embedded-broker.password"  # noqa: S105 - a file's name, not a secret


def embedded_broker(farm: Farm) -> EmbeddedBroker | None:
    """Return the broker to run beside us, or None where the farm has one of its own.

    Raises
    ------
    BrokerError
        If its password file may be read by others.
    """
    if not farm.broker.embedded:
        return None
    farm.data_dir.mkdir(parents=True, exist_ok=True, mode=0o700)
    password = password_from(farm.data_dir / PASSWORD_FILE)
    return EmbeddedBroker(port=farm.broker.port, password=password)


def _tls(broker: Broker) -> TlsFiles | None:
    if broker.tls is None:
        return None
    tls = broker.tls
    return TlsFiles(tls.ca_file, tls.cert_file, tls.key_file, tls.check_host)


def session_settings(
    farm: Farm, embedded: EmbeddedBroker | None, *, expect_session: bool
) -> SessionSettings:
    """Return how to reach the farm's broker and what to listen to."""
    broker, sensors = farm.broker, farm.sensors.values()
    password = broker.password.get_secret_value() if broker.password else None
    return SessionSettings(
        host="127.0.0.1" if embedded else broker.host,
        port=embedded.port if embedded else broker.port,
        client_id=broker.client_id,
        filters=tuple(subscriptions(broker.listen, sensors)),
        fallback=tuple(subscriptions((), sensors)),
        # The embedded broker speaks 3.1.1 only, and answers nothing else.
        protocol=Protocol.V311 if embedded else Protocol(broker.protocol),
        user=embedded.user if embedded else broker.user,
        password=embedded.password if embedded else password,
        tls=None if embedded else _tls(broker),
        expect_session=expect_session and embedded is None,
        trust_retained=embedded is None,
    )


def check_joining(farm: Farm) -> None:
    """Make sure that the farm's broker could be joined, as far as this computer knows.

    Raises
    ------
    BrokerError
        If a certificate or key file cannot be used.
    """
    if not farm.broker.embedded:
        settings = session_settings(farm, None, expect_session=False)
        build(settings, settings.protocol)


def publisher_broker(farm: Farm) -> Broker:
    """Return how a publisher on this computer reaches the farm's broker.

    Raises
    ------
    BrokerError
        If the embedded broker's password file may be read by others.
    """
    embedded = embedded_broker(farm)
    if embedded is None:
        return farm.broker
    return replace(
        farm.broker,
        host="127.0.0.1",
        user=embedded.user,
        password=SecretStr(embedded.password),
        protocol="3.1.1",
    )
