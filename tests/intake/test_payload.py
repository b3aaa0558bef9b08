"""Messages of each form, good and bad."""

import json
import tracemalloc
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.intake import Decoder
from monitor.model import Flag, Quantity
from tests.intake.made import (
    BARE_RH,
    NOW_MS,
    Instrument,
    J,
    Spec,
    T,
    decode,
    message,
    queued,
    reasons,
    retained,
    values,
)

TEMPERATURE, HUMIDITY = Quantity.TEMPERATURE, Quantity.HUMIDITY


def test_a_bare_number_is_a_reading_at_the_time_of_receipt() -> None:
    """A bare number has no time of its own, and says so by its flags."""
    (reading,) = decode(T, "4.1").readings
    assert (reading.raw, reading.at_ms, reading.flags) == (4.1, NOW_MS, Flag.NONE)


def test_a_flat_object_gives_one_reading_a_channel() -> None:
    """Each declared path yields its channel; what nobody declared is left."""
    assert values(decode(J, '{"t": 4, "h": 80.5, "rssi": -70}')) == {
        TEMPERATURE: 4.0,
        HUMIDITY: 80.5,
    }


def test_a_path_leads_through_objects_and_lists() -> None:
    """A dotted path walks objects by key and lists by index; a key with a dot wins."""
    sensor = Instrument((Spec(TEMPERATURE, "air.0.t"), Spec(HUMIDITY, "air.h", "%")))
    found = decode(sensor, '{"air": [{"t": 4.1}], "air.h": 80}')
    assert values(found) == {TEMPERATURE: 4.1, HUMIDITY: 80.0}


def test_an_array_is_plain_json_where_a_path_begins_with_an_index() -> None:
    """A sensor that declares list indexes is not taken for a SenML sender."""
    sensor = Instrument((Spec(TEMPERATURE, "0"), Spec(HUMIDITY, "1", "%")))
    assert values(decode(sensor, "[4.1, 80]")) == {TEMPERATURE: 4.1, HUMIDITY: 80.0}


def test_a_number_written_as_text_is_read_by_the_same_grammar() -> None:
    """``"4.1"`` is a number; ``"4.1.0"`` is refused for its channel alone."""
    assert values(decode(J, '{"t": "4.1", "h": 80}')) == {TEMPERATURE: 4.1, HUMIDITY: 80.0}
    found = decode(J, '{"t": "4.1.0", "h": 80}')
    assert values(found) == {HUMIDITY: 80.0}
    assert reasons(found) == ["not_a_number"]


@pytest.mark.parametrize(
    ("value", "reason"),
    [
        ("NaN", "sensor_fault"),
        ("-Infinity", "sensor_fault"),
        ("1e400", "sensor_fault"),
        ("9" * 4000, "sensor_fault"),
        ("null", "missing"),
        ('"unavailable"', "missing"),
        ('"unknown"', "missing"),
        ('""', "missing"),
        ('"nan"', "sensor_fault"),
        ("true", "not_a_number"),
        ("[4.1]", "not_a_number"),
        ('{"v": 4.1}', "not_a_number"),
        ('"\\ud800"', "not_a_number"),
        ("-3274.5", "impossible"),
    ],
)
def test_one_bad_value_spoils_no_other(value: str, reason: str) -> None:
    """A bad value is refused with its reason; the other channels of the message survive."""
    found = decode(J, f'{{"t": {value}, "h": 80}}')
    assert values(found) == {HUMIDITY: 80.0}
    (refusal,) = found.refusals
    assert (refusal.reason, refusal.quantity, refusal.sensor) == (reason, TEMPERATURE, "x")
    refusal.detail.encode("utf-8")


@pytest.mark.parametrize(
    ("payload", "reason"),
    [
        (b'{"t":nan}', "not_json"),
        (b'{"t":4.1', "not_json"),
        (b'{"t":4.1}}', "not_json"),
        (b'{"t":4.1,"t":5}', "duplicate_key"),
        (b'{"x":4.1}', "no_channel"),
        (b"4.1", "no_channel"),
        (b'{"t":"\xb0"}', "not_text"),
        (b"[" * 100_000, "too_large"),
        (b"[" * 1_000, "too_deep"),
        (b'{"t":' * 1_000, "too_deep"),
        (b'{"t":' + b"9" * 5_000 + b"}", "not_json"),
        (b'{"t":1,"x":"' + b"x" * 5_000_000 + b'"}', "too_large"),
        (b" \r\n", "empty"),
    ],
    ids=lambda given: str(given[:20]),
)
def test_a_bad_object_is_refused_whole(payload: bytes, reason: str) -> None:
    """A message that is no strict JSON object yields one refusal and at most 200 bytes kept."""
    found = decode(J, payload)
    assert found.readings == []
    assert reasons(found) == [reason]
    assert found.refusals[0].payload == payload[:200]


@pytest.mark.parametrize(
    ("payload", "reason"),
    [
        (b"???", "not_a_number"),
        (b"unavailable", "missing"),
        (b"unknown", "missing"),
        (b"null", "missing"),
        (b"nan", "sensor_fault"),
        (b"4.1e", "not_a_number"),
        (b"4.1.0", "not_a_number"),
        (b"4,1", "not_a_number"),
        (b"1,000", "not_a_number"),
        (b"4.1 \xb0C", "not_text"),
        (b'{"t":4.1}', "no_channel"),
        (b"9" * 5_000, "not_a_number"),
        (b"-3274.5", "impossible"),
    ],
)
def test_a_bad_bare_text_is_refused(payload: bytes, reason: str) -> None:
    """No bad text becomes a reading, and none becomes 0."""
    found = decode(T, payload)
    assert found.readings == []
    assert reasons(found) == [reason]


def test_stray_bytes_around_an_object_are_tolerated() -> None:
    """A byte-order mark, a trailing NUL and CR LF around an object change nothing."""
    assert values(decode(J, b'\xef\xbb\xbf\r\n{"t": 4.1}\r\n\x00')) == {TEMPERATURE: 4.1}


def test_quotes_without_end_cost_no_time() -> None:
    """A message of escaped quotes is refused in linear time: sixty thousand are instant."""
    found = decode(J, b"[" * 20 + b"{" * 20 + b'"' + b'\\"' * 30_000)
    assert reasons(found) == ["too_deep"]


def test_memory_stays_flat_under_bombs() -> None:
    """A hundred thousand brackets and five megabytes take no memory beyond their own."""
    bombs = [b"[" * 100_000, b'{"t":"' + b"x" * 5_000_000, b'{"t":' + b"9" * 5_000 + b"}"]
    decoder = Decoder([J])
    decoder.decode(message('{"t":1}'))
    tracemalloc.start()
    for bomb in bombs:
        decoder.decode(message(bomb))
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 200_000


def test_zero_bytes_are_a_retain_clear() -> None:
    """Zero bytes clear what the broker kept: no reading, no refusal."""
    found = Decoder([T]).decode(retained(b""))
    assert (found.readings, found.last_known, found.refusals) == ([], [], [])
    assert found.note == "retain_clear"


def test_a_retained_value_without_a_time_is_last_known_only() -> None:
    """It may be days old, so that it is shown and not stored."""
    found = Decoder([J]).decode(retained('{"t": 4.1}'))
    assert found.readings == []
    assert [reading.raw for reading in found.last_known] == [4.1]


def test_a_retained_value_with_its_own_time_is_a_reading_of_that_time() -> None:
    """The sensor's own time makes a retained value an ordinary reading."""
    found = Decoder([J]).decode(retained(f'{{"t": 4.1, "ts": {NOW_MS - 5000}}}'))
    assert [(reading.raw, reading.at_ms) for reading in found.readings] == [(4.1, NOW_MS - 5000)]
    assert found.last_known == []


def test_a_queued_value_without_a_time_is_uncertain() -> None:
    """What waited at the broker has no known time, unless it brings its own."""
    decoder = Decoder([J])
    (reading,) = decoder.decode(queued('{"t": 4.1}')).readings
    assert reading.flags == Flag.TIME_UNCERTAIN
    (reading,) = decoder.decode(queued(f'{{"t": 4.1, "ts": {NOW_MS}}}')).readings
    assert reading.flags == Flag.DEVICE_TIME


@pytest.mark.parametrize(
    ("declared", "payload", "expected_c"),
    [
        ("F", "50", 10.0),
        ("K", "273.15", 0.0),
        ("C", "50 F", 10.0),
        ("C", "50 °F", 10.0),
        ("F", "10 °C", 10.0),
        ("C", "4.1 °C", 4.1),
    ],
)
def test_units_declared_or_labelled_are_honoured(
    declared: str, payload: str, expected_c: float
) -> None:
    """A label beside the number outranks the declared unit (exact points of NIST SP 811)."""
    sensor = Instrument((Spec(TEMPERATURE, None, declared),))
    assert values(decode(sensor, payload))[TEMPERATURE] == pytest.approx(expected_c)


@pytest.mark.parametrize(
    "payload",
    ['{"t": 50, "t_unit": "F"}', '{"t": 50, "unit": "°F"}', '{"t": "50 F", "h": 80}'],
)
def test_a_unit_in_an_object_is_honoured_and_said_once(payload: str) -> None:
    """A unit labelled in the message is used, and the difference is said one time."""
    decoder = Decoder([J])
    first, second = decoder.decode(message(payload)), decoder.decode(message(payload))
    assert values(first)[TEMPERATURE] == pytest.approx(10.0)
    assert "labelled F, declared C" in first.note
    assert second.note == ""


def test_a_unit_that_does_not_fit_refuses_the_value() -> None:
    """A temperature labelled with what is no temperature unit is refused."""
    assert reasons(decode(T, "4.1 kPa")) == ["unit"]
    assert reasons(decode(J, '{"t": 4.1, "t_unit": "%"}')) == ["unit"]


def test_a_door_is_open_or_closed() -> None:
    """Switches take true, words and 1 or 0, and nothing between."""
    door = Instrument((Spec(Quantity.DOOR, "open", ""),))
    assert values(decode(door, '{"open": true}')) == {Quantity.DOOR: 1.0}
    assert values(decode(door, '{"open": "closed"}')) == {Quantity.DOOR: 0.0}
    assert reasons(decode(door, '{"open": 0.4}')) == ["impossible"]


def test_wet_humidity_is_kept_as_read_and_flagged() -> None:
    """Over 100 % is a wet sensor, stored as read; 3317.3 % is refused."""
    for wet in (100.8, 103.6):
        (reading,) = decode(BARE_RH, str(wet)).readings
        assert (reading.raw, reading.flags) == (wet, Flag.SATURATED)
    assert reasons(decode(BARE_RH, "3317.3")) == ["impossible"]
    assert reasons(decode(BARE_RH, "-0.1")) == ["impossible"]


def test_an_unclaimed_topic_is_named_so() -> None:
    """A topic that no sensor has yields nothing but the fact."""
    found = Decoder([T]).decode(message("4.1", topic="barn/other"))
    assert found.unclaimed
    assert (found.readings, found.refusals, found.sensor) == ([], [], None)


def test_several_sensors_may_share_a_gateways_topic() -> None:
    """Each sensor on a shared topic takes its own paths; none misses the other's."""
    one = Instrument((Spec(TEMPERATURE, "a.t"),), id="a")
    two = Instrument((Spec(TEMPERATURE, "b.t"),), id="b")
    found = Decoder([one, two]).decode(message('{"b": {"t": 5.5}}'))
    assert [(reading.channel.sensor, reading.raw) for reading in found.readings] == [("b", 5.5)]
    assert (found.sensor, found.refusals) == ("b", [])


SENSORS = [T, J, BARE_RH, replace(J, time_path="a.b"), Instrument((Spec(TEMPERATURE, "0.t"),))]
_NUMBERS = st.floats() | st.integers() | st.sampled_from([1e400, 2**63, True, None])
_TREES = st.recursive(
    _NUMBERS | st.text(max_size=10),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(
            st.sampled_from(["t", "h", "ts", "unit", "n", "v", "u"]), inner, max_size=4
        )
    ),
)


@settings(max_examples=300)
@given(st.binary(max_size=200) | _TREES.map(lambda tree: json.dumps(tree).encode()))
def test_no_message_ends_the_decoder(payload: bytes) -> None:
    """Whatever the bytes, decoding returns, blames no defect, and takes the next message."""
    for sensor in SENSORS:
        decoder = Decoder([sensor])
        for made in (message(payload), queued(payload), retained(payload)):
            found = decoder.decode(made)
            assert "defect" not in reasons(found)
            assert all(abs(reading.raw) <= 110 for reading in found.readings)
        good = decoder.decode(message('[{"t": 4}]' if sensor is SENSORS[-1] else '{"t": 4}'))
        assert good.readings or sensor in {T, BARE_RH}
