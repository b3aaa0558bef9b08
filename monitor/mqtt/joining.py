"""From the farm's files to the settings of a session."""

from monitor.farm import Farm
from monitor.intake import subscriptions
from monitor.mqtt.embedded import HOST, EmbeddedBroker
from monitor.mqtt.settings import Protocol, SessionSettings, TlsFiles


def filters_for(farm: Farm) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the filters to subscribe to, and the single topics to fall back to."""
    sensors = farm.sensors.values()
    single = dict.fromkeys(sensor.topic for sensor in sensors)
    return tuple(subscriptions(farm.broker.listen, sensors)), tuple(single)


def settings_for(
    farm: Farm, *, expect_session: bool, embedded: EmbeddedBroker | None = None
) -> SessionSettings:
    """Return how to join the farm's broker, or the embedded one where it runs.

    Parameters
    ----------
    farm : Farm
        What the grower declared.
    expect_session : bool
        Whether an earlier run left a session behind: its absence is then told as a gap.
        An embedded broker never has one.
    embedded : EmbeddedBroker, optional
        The broker of this process, started.
    """
    broker = farm.broker
    filters, fallback = filters_for(farm)
    if embedded is not None:
        return SessionSettings(
            HOST, embedded.port, broker.client_id, filters, fallback, Protocol.V311,
            user=embedded.user, password=embedded.password, trust_retained=False,
            topic=farm.watcher.topic,
        )  # fmt: skip
    tls = broker.tls
    return SessionSettings(
        broker.host,
        broker.port,
        broker.client_id,
        filters,
        fallback,
        Protocol(broker.protocol),
        user=broker.user,
        password=broker.password.get_secret_value() if broker.password else None,
        tls=TlsFiles(tls.ca_file, tls.cert_file, tls.key_file, tls.check_host) if tls else None,
        expect_session=expect_session,
        topic=farm.watcher.topic,
    )
