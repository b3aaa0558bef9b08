"""From the farm's files to the settings of a session."""

from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from pydantic import SecretStr

from monitor.farm import Broker, ChannelSpec, Farm, NoticeRules, Sensor, Tls, Web
from monitor.model import Quantity
from monitor.mqtt.embedded import EmbeddedBroker
from monitor.mqtt.joining import filters_for, settings_for
from monitor.mqtt.settings import Protocol
from monitor.units import TemperatureUnit


def farm(broker: Broker) -> Farm:
    """Return a farm with two sensors on one topic and one on another."""
    sensors = {
        name: Sensor(
            id=name, name=name, place="shed", topic=topic, interval_s=60.0,
            silent_after_s=180.0, allowed_gap_s=180.0,
            channels=(ChannelSpec(Quantity.TEMPERATURE, path, "C"),),
        )
        for name, topic, path in (("a", "shed/ab", "a"), ("b", "shed/ab", "b"), ("c", "c", None))
    }  # fmt: skip
    return Farm(
        name="Farm", zone=ZoneInfo("UTC"), latitude=0.0, longitude=0.0,
        units=TemperatureUnit.CELSIUS, broker=broker, web=Web(), places={}, sensors=sensors,
        crops={}, people={}, notices=NoticeRules(), directory=Path(),
    )  # fmt: skip


def test_every_sensor_is_covered_and_each_topic_is_named_once() -> None:
    """The wide filter covers all; the fall-back names each declared topic."""
    assert filters_for(farm(Broker())) == (("#",), ("shed/ab", "c"))
    assert set(filters_for(farm(Broker(listen=("shed/#",))))[0]) == {"shed/#", "c"}


def test_a_farms_broker_is_joined_as_declared() -> None:
    """Host, user, password, version and certificates reach the session."""
    tls = Tls(ca_file=Path("ca.crt"), check_host=False)
    broker = Broker(
        host="broker.farm.example", port=8883, user="monitor", password=SecretStr("chives"),
        protocol="3.1.1", tls=tls, client_id="barn",
    )  # fmt: skip
    how = settings_for(farm(broker), expect_session=True)
    assert (how.host, how.port, how.client_id) == ("broker.farm.example", 8883, "barn")
    assert (how.user, how.password, how.protocol) == ("monitor", "chives", Protocol.V311)
    assert how.tls is not None
    assert (how.tls.ca_file, how.tls.check_host) == (Path("ca.crt"), False)
    assert how.expect_session
    assert "chives" not in repr(how)


@pytest.mark.parametrize("expect", [True, False])
def test_the_embedded_broker_is_joined_by_its_own_rules(*, expect: bool) -> None:
    """It speaks 3.1.1, its retained flag is not believed, and it never kept a session."""
    own = EmbeddedBroker(port=1)
    how = settings_for(farm(Broker(embedded=True)), expect_session=expect, embedded=own)
    assert (how.host, how.port, how.protocol) == ("127.0.0.1", 1, Protocol.V311)
    assert (how.user, how.password) == (own.user, own.password)
    assert not how.trust_retained
    assert not how.expect_session
