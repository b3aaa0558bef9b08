"""The sensor's own time."""

from dataclasses import replace

import pytest

from monitor.intake.device_time import device_time_ms
from monitor.model import Flag, Reading
from tests.intake.made import NOW_MS, J, decode

AT_S = NOW_MS // 1000 - 30  # half a minute before receipt


def _reading(time: str, key: str = "ts") -> Reading:
    return decode(J, f'{{"t": 4.1, "{key}": {time}}}').readings[0]


@pytest.mark.parametrize(
    "time",
    [
        f"{AT_S}",
        f"{AT_S}.0",
        f"{AT_S}000",
        f"{AT_S}000000",
        f"{AT_S}000000000",
        f'"{AT_S}"',
        '"2025-11-24T15:59:30Z"',
        '"2025-11-24T07:59:30-08:00"',
        '"2025-11-24 16:59:30.000+01:00"',
    ],
)
def test_a_time_is_understood_in_each_of_its_forms(time: str) -> None:
    """Seconds, ms, µs, ns as numbers and ISO 8601 text with a zone mean the same moment."""
    reading = _reading(time)
    assert (reading.at_ms, reading.flags) == (AT_S * 1000, Flag.DEVICE_TIME)


@pytest.mark.parametrize(
    "time",
    [
        "0",
        str(2**63),
        "-1",
        "1e400",
        "NaN",
        "true",
        "[]",
        '""',
        '"soon"',
        '"2025-11-24T16:00:00"',
        f"{AT_S + 7200}",
        f"{AT_S - 91 * 86400}",
        '"9999-12-31T23:59:59-23:59"',
        '"0001-01-01T00:00:00+23:59"',
    ],
)
def test_an_incredible_time_gives_way_to_receipt(time: str) -> None:
    """A time that cannot be is refused with a flag; the value stands at its receipt."""
    reading = _reading(time)
    assert (reading.at_ms, reading.flags) == (NOW_MS, Flag.TIME_REFUSED)


def test_the_bounds_of_belief() -> None:
    """Five minutes ahead and ninety days behind are believed; a second more is not."""
    ahead, behind = NOW_MS + 300_000, NOW_MS - 90 * 86_400_000
    assert _reading(str(ahead)).flags == Flag.DEVICE_TIME
    assert _reading(str(ahead + 1000)).flags == Flag.TIME_REFUSED
    assert _reading(str(behind)).flags == Flag.DEVICE_TIME
    assert _reading(str(behind - 1000)).flags == Flag.TIME_REFUSED


@pytest.mark.parametrize("key", ["time", "timestamp", "ts", "at"])
def test_usual_keys_are_found_unasked(key: str) -> None:
    """A sensor that declares no path for its time is looked at under the usual keys."""
    assert _reading(str(AT_S), key).at_ms == AT_S * 1000


def test_a_declared_path_is_the_only_one() -> None:
    """Where a path is declared, no other key is taken for the time."""
    sensor = replace(J, time_path="meta.when")
    (reading,) = decode(sensor, f'{{"t": 4.1, "ts": 5, "meta": {{"when": {AT_S}}}}}').readings
    assert (reading.at_ms, reading.flags) == (AT_S * 1000, Flag.DEVICE_TIME)
    (reading,) = decode(sensor, f'{{"t": 4.1, "ts": {AT_S}}}').readings
    assert reading.flags == Flag.NONE


def test_null_is_no_time_at_all() -> None:
    """A null time is absent, not refused."""
    assert _reading("null").flags == Flag.NONE


def test_the_repeated_hour_is_two_hours() -> None:
    """At the end of summer time the zone in the text tells the two 01:30 apart."""
    first = device_time_ms("2025-11-02T01:30:00-07:00")
    second = device_time_ms("2025-11-02T01:30:00-08:00")
    assert first is not None
    assert second == first + 3_600_000
