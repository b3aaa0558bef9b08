"""Readings as line protocol: by the library's own escaping, and as its description says."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from influxdb_client import Point

from monitor.farm import Mirror
from monitor.mirror.lines import Lines
from monitor.mirror.naming import FIELDS, FLAGS, NOWHERE, unwritable
from monitor.mirror.places import Places
from monitor.model import Channel, Quantity
from monitor.store import Series

MIRROR = Mirror("http://127.0.0.1:1", "farms", "brook")
AIR = Channel("door-side", Quantity.TEMPERATURE)


def _series(*rows: tuple[int, float, int]) -> Series:
    at_ms, raw, flags = zip(*rows, strict=True)
    return Series(np.array(at_ms), np.array(raw, float), np.array(flags))


def test_a_line_has_measurement_sorted_tags_field_and_time() -> None:
    """As the line protocol reference writes it; flags only where there are some."""
    places = Places([(0, {"door-side": "walk-in-cooler"})])
    lines = Lines(MIRROR).of(AIR, _series((1_700_000_000_123, 3.4, 0), (7, -0.5, 17)), places)
    head = "cormwatch,place=walk-in-cooler,sensor=door-side,site=brook "
    assert lines == [
        f"{head}temperature_c=3.4 1700000000123",
        f"{head}temperature_c=-0.5,temperature_flags=17i 7",
    ]


@given(
    st.text(st.characters(codec="utf-8"), min_size=1, max_size=12),
    st.floats(allow_nan=False, allow_infinity=False),
    st.integers(0, 255),
    st.sampled_from(list(Quantity)),
)
def test_a_line_means_what_the_librarys_own_point_means(
    sensor: str, value: float, flags: int, quantity: Quantity
) -> None:
    """Reference: influxdb-client's Point. Names, tags and time alike, values the same numbers."""
    if unwritable(sensor):
        return
    channel = Channel(sensor, quantity)
    (line,) = Lines(MIRROR).of(channel, _series((1_234, value, flags)), Places(()))
    point = Point("cormwatch").tag("site", "brook").tag("place", NOWHERE).tag("sensor", sensor)
    point.field(FIELDS[quantity], value).time(1_234)
    if flags:
        point.field(FLAGS[quantity], flags)
    (head, fields), (own_head, own_fields) = (
        _cut(each) for each in (point.to_line_protocol(), line)
    )
    assert own_head == head
    assert {k: _number(v) for k, v in own_fields.items()} == {
        k: _number(v) for k, v in fields.items()
    }


def _cut(line: str) -> tuple[tuple[str, str], dict[str, str]]:
    head, fields, at = line.rsplit(" ", 2)
    return (head, at), dict(each.split("=") for each in fields.split(","))


def _number(text: str) -> float:
    return float(text.removesuffix("i"))


@pytest.mark.outside
@pytest.mark.parametrize(
    ("sensor", "written"),
    [
        ("us midwest", r"us\ midwest"),
        ("us,midwest", r"us\,midwest"),
        ("us=midwest", r"us\=midwest"),
        ("us'mid\"west", "us'mid\"west"),
        ("us\\midwest", r"us\midwest"),
        ("blüte", "blüte"),
    ],
)
def test_special_characters_are_escaped_as_the_description_says(sensor: str, written: str) -> None:
    """InfluxDB line protocol reference: comma, equals sign and space take a backslash, no other."""
    (line,) = Lines(MIRROR).of(Channel(sensor, Quantity.DOOR), _series((1, 1.0, 0)), Places(()))
    assert line == f"cormwatch,place=unknown,sensor={written},site=brook door=1.0 1"


@pytest.mark.outside
@pytest.mark.parametrize("text", ["", "two\nlines", "end\\", "tab\tbed", "\r"])
def test_what_a_tag_cannot_hold_is_known_before_it_is_sent(text: str) -> None:
    """InfluxDB line protocol reference: no newline, nothing empty; a backslash escapes the next."""
    assert unwritable(text)


def test_a_place_holds_from_its_change_on_and_the_first_before_it() -> None:
    """A sensor taken away stays where it was last; one never named is nowhere."""
    places = Places(
        [(100, {"a": "tunnel"}), (200, {"a": "tunnel"}), (300, {"a": "cooler"}), (400, {})]
    )
    assert [places.of("a").at(at) for at in (0, 100, 299, 300, 900)] == [
        "tunnel", "tunnel", "tunnel", "cooler", "cooler",
    ]  # fmt: skip
    assert places.of("b").at(5) == NOWHERE
