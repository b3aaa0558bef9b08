"""Values that are wrong by their kind, or only seem so, from bytes to alarms."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.farm import ChannelSpec, Sensor
from monitor.model import AlarmKind, Channel, Flag, Quantity
from tests.daemon.field import Field
from tests.daemon.made import HandClock
from tests.watch.made import band, cooler

AIR, DAMP = Channel("both", Quantity.TEMPERATURE), Channel("both", Quantity.HUMIDITY)
SENSOR = Sensor("both", "both", "cooler", "farm/both", 60.0, 180.0, 180.0, (
    ChannelSpec(Quantity.TEMPERATURE, path="t", unit="C"),
    ChannelSpec(Quantity.HUMIDITY, path="rh"),
))  # fmt: skip


@pytest.fixture
def field(tmp_path: Path) -> Iterator[Field]:
    """Yield a cooler whose air may be 0.5 to 5 °C and 60 to 97 %."""
    bands = {
        Quantity.TEMPERATURE: band(),
        Quantity.HUMIDITY: band(60.0, 97.0, 1800.0, (80.0, 95.0)),
    }
    made = Field(tmp_path, HandClock(), [SENSOR], places=[cooler(bands=bands)])
    yield made
    made.close()


def _say(field: Field, minute: float, air: object = 3.0, damp: object = 92) -> None:
    field.say(AIR, f'{{"t": {air}, "rh": {damp}}}'.encode(), minute)


@pytest.mark.parametrize("said", [103.6])
def test_more_than_all_the_water_is_used_as_all_and_raises_the_damp_alarm(
    field: Field, said: float
) -> None:
    """Stored as read with a flag, judged as 100 %."""
    for minute in range(60):
        _say(field, minute, damp=said)
    assert field.kinds() == [AlarmKind.TOO_WET]
    (alarm,) = field.ledger.alarms()
    assert alarm.peak == 100.0
    reader = field.store.reader()
    series = reader.series(DAMP, 0)
    reader.close()
    assert set(series.raw.tolist()) == {said}
    assert set(series.flags.tolist()) == {int(Flag.SATURATED)}


@pytest.mark.parametrize("fall", [3.0, 0.0])
def test_a_wet_sensor_that_falls_within_a_minute_clears_nothing(field: Field, fall: float) -> None:
    """The damp alarm stands while it says so, and for as long as it is not believed."""
    for minute in range(60):
        _say(field, minute, damp=98)
    for minute in range(60, 75):
        _say(field, minute, damp=fall)
    assert AlarmKind.TOO_WET in field.kinds()
    reader = field.store.reader()
    fallen = reader.series(DAMP, 0).flags[-15:]
    reader.close()
    assert ((fallen & int(Flag.SUSPECT)) != 0).all()


@pytest.mark.parametrize(("odd_air", "odd_damp"), [(1.5, 46), (24.0, 92)])
def test_a_lone_double_or_half_pages_nobody(field: Field, odd_air: float, odd_damp: float) -> None:
    """One of it an hour is stored and tells nothing."""
    for minute in range(180):
        odd = minute % 60 == 31
        _say(field, minute, odd_air if odd else 3.0, odd_damp if odd else 92)
    assert field.ledger.alarms() == []
    reader = field.store.reader()
    assert int((reader.series(AIR, 0).raw == odd_air).sum()) in {3, 180}
    reader.close()


def test_a_double_that_is_held_pages(field: Field) -> None:
    """What stays past the delay is told, however it began."""
    for minute in range(10):
        _say(field, minute)
    for minute in range(10, 60):
        _say(field, minute, air=6.0)
    assert field.kinds() == [AlarmKind.TOO_WARM]


@pytest.mark.parametrize("said", ["39.4", "42"])
def test_fahrenheit_under_a_celsius_label_raises_and_is_hinted(field: Field, said: str) -> None:
    """It is warm by what it says, marked as perhaps another unit, and not converted."""
    for minute in range(5):
        _say(field, minute, air=4.1)
    for minute in range(5, 60):
        _say(field, minute, air=said)
    assert AlarmKind.TOO_WARM in field.kinds()
    reader = field.store.reader()
    series = reader.series(AIR, 0)
    reader.close()
    assert series.raw[-1] == float(said)
    assert int(series.flags[-1]) & int(Flag.UNIT_SUSPECT)


def test_what_no_instrument_can_mean_is_refused_and_its_neighbour_kept(field: Field) -> None:
    """Counted with its reason; humidity of the same message is stored all the same."""
    for minute, said in enumerate(["-3274.5", "3276.7", "1e9", "-300", "850000"]):
        _say(field, minute, air=said, damp=91)
    reader = field.store.reader()
    assert [(each.reason, each.count) for each in reader.refusal_counts()] == [("impossible", 5)]
    assert len(reader.series(DAMP, 0).raw) == 5
    assert len(reader.series(AIR, 0).raw) == 0
    reader.close()
