"""Acknowledgements leave in order, and only on their own connection."""

from monitor.mqtt.acks import Acknowledgements
from tests.mqtt.fakes import message


def test_a_pack_is_the_wire_form_of_each_acknowledgement_in_order() -> None:
    """PUBACK is 40 02 and the message id, high byte first (MQTT 3.1.1, figure 3.12)."""
    acks = Acknowledgements()
    acks.add([message(1), message(258)])
    assert acks.take(1) == bytes.fromhex("40020001 40020102")


def test_quality_of_service_0_asks_for_no_acknowledgement() -> None:
    """A message of QoS 0 is not answered."""
    acks = Acknowledgements()
    acks.add([message(0, qos=0)])
    assert acks.take(1) == b""


def test_an_acknowledgement_of_an_earlier_connection_is_dropped_and_counted() -> None:
    """A message id of an earlier connection may by now be somebody else's."""
    acks = Acknowledgements()
    acks.add([message(1, connection=1), message(2, connection=1), message(1, connection=2)])
    assert acks.take(2) == bytes.fromhex("40020001")
    assert acks.dropped == 2


def test_what_was_taken_is_not_given_again() -> None:
    """Each acknowledgement is sent once."""
    acks = Acknowledgements()
    acks.add([message(1)])
    acks.take(1)
    assert acks.take(1) == b""
