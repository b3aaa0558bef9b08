"""The broker beside us, where the farm has none of its own, and the way to it."""

from dataclasses import replace

from pydantic import SecretStr

from monitor.farm import Broker, Farm
from monitor.mqtt.client import build
from monitor.mqtt.embedded import EmbeddedBroker, password_from
from monitor.mqtt.joining import settings_for

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


def check_joining(farm: Farm) -> None:
    """Make sure that the farm's broker could be joined, as far as this computer knows.

    Raises
    ------
    BrokerError
        If a certificate or key file cannot be used.
    """
    if not farm.broker.embedded:
        settings = settings_for(farm, expect_session=False)
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
