"""Instruments are late, noisy and rounded, and break as faults say."""

import numpy as np
import pytest

from monitor.farm import Sensor
from simulator.dice import Floats
from simulator.faults import Fault, FaultKind
from simulator.instrument import Character, Instrument, hangs_in_contents
from simulator.truth import Truth
from tests.simulator.farms import AIR, BARE, DAMP, DOOR, START_MS, sensor

AT_MS = START_MS + 60_000 * np.arange(1, 1_441, dtype=np.int64)
PERFECT = Character(0.0, 0.0, 0.0, 0.0, 6, 0.0, 0.0, 0.0)


def _truth(air_c: Floats | float = 3.0, humidity_pct: float = 80.0) -> Truth:
    flat = np.ones(AT_MS.shape)
    air = flat * air_c
    return Truth(
        AT_MS, air, flat * 7.0, flat * 9.0, flat * humidity_pct, flat * 0.0, flat, flat, flat
    )  # fmt: skip


def _read(
    what: Sensor, truth: Truth, *faults: Fault, character: Character = PERFECT
) -> tuple[Floats, ...]:
    return Instrument(what, 1, faults, character).read(truth, 0, START_MS).values


def test_a_perfect_instrument_tells_the_truth_in_its_own_unit() -> None:
    """3 °C and 80 % read as 37.4 °F and 80 %."""
    warm, damp = _read(sensor("a", "cooler", AIR, DAMP), _truth())
    assert warm == pytest.approx(37.4)
    assert damp == pytest.approx(80.0)


def test_it_reports_by_its_interval() -> None:
    """A day of minutes gives 1,440 readings, in order, within the day."""
    readings = Instrument(sensor("a", "cooler", BARE), 3, (), Character(unheard=0.0)).read(
        _truth(), 0, START_MS
    )
    assert readings.at_ms.size == 1_440
    assert (np.diff(readings.at_ms) > 0).all()
    assert readings.at_ms[0] >= START_MS
    assert readings.at_ms[-1] < AT_MS[-1]


def test_noise_and_rounding_are_as_declared() -> None:
    """The spread is that of noise and rounding together (root of squares)."""
    (values,) = _read(sensor("a", "cooler", BARE), _truth(), character=Character())
    assert values.std() == pytest.approx(np.hypot(0.05, 0.1 / np.sqrt(12.0)), rel=0.15)
    assert np.allclose(values * 10, np.round(values * 10))


def test_a_probe_is_late_by_its_time_constant() -> None:
    """After a step a first-order probe has gone 63.2 % of the way in one time constant."""
    air = np.where(AT_MS > START_MS + 3_600_000, 10.0, 2.0)
    lagging = Character(0.0, 0.0, 0.0, 0.0, 6, 600.0, 0.0, 0.0)
    readings = Instrument(sensor("a", "cooler", BARE), 1, (), lagging).read(
        _truth(air), 0, START_MS
    )
    value = np.interp(START_MS + 3_600_000 + 600_000, readings.at_ms, readings.values[0])
    assert value == pytest.approx(2.0 + 8.0 * (1.0 - np.exp(-1.0)), abs=0.05)


def test_a_wet_humidity_sensor_overshoots() -> None:
    """In saturated air some instruments read over 100 %, none under 99."""
    read = [
        Instrument(sensor("a", "cooler", DAMP), seed, (), PERFECT).read(
            _truth(humidity_pct=100.0), 0, START_MS
        ).values[0][0]
        for seed in range(12)
    ]  # fmt: skip
    assert min(read) >= 99.0
    assert max(read) > 101.0


def test_words_say_what_a_sensor_hangs_in() -> None:
    """A probe in a flower head reads the contents, one at flower height reads the air."""
    inside = sensor("a", "cooler", BARE, hangs="In a flower head, back shelf")
    beside = sensor("b", "cooler", BARE, hangs="at flower height")
    assert hangs_in_contents(inside)
    assert _read(inside, _truth())[0] == pytest.approx(7.0)
    assert _read(beside, _truth())[0] == pytest.approx(3.0)


def test_a_door_contact_says_open_for_the_minute_it_was_open() -> None:
    """Any share of a step open reads as 1, a shut step as 0."""
    truth = _truth()
    truth.door[700] = 0.2
    readings = Instrument(sensor("a", "cooler", DOOR), 1, (), PERFECT).read(truth, 0, START_MS)
    opened = readings.at_ms[readings.values[0] == 1.0]
    assert ((opened > AT_MS[699]) & (opened <= AT_MS[700])).all()
    assert opened.size == 1


@pytest.mark.parametrize("kind", [FaultKind.SENSOR_DEATH, FaultKind.GATEWAY_DARK])
def test_a_dead_one_says_nothing_more(kind: FaultKind) -> None:
    """From the fault's start on there is no message."""
    noon_ms = START_MS + 43_200_000
    readings = Instrument(
        sensor("a", "cooler", BARE), 1, (Fault(kind, noon_ms, "a"),), PERFECT
    ).read(_truth(), 0, START_MS)
    assert readings.at_ms.size == 720
    assert readings.at_ms[-1] < noon_ms


def test_a_stuck_one_repeats_its_last_value_for_ever() -> None:
    """The value holds from the fault's start, through later blocks too."""
    noon_ms = START_MS + 43_200_000
    fault = Fault(FaultKind.STUCK_VALUE, noon_ms, "a")
    air = np.linspace(2.0, 12.0, AT_MS.size)
    instrument = Instrument(sensor("a", "cooler", BARE), 1, (fault,), PERFECT)
    first = instrument.read(_truth(air), 0, START_MS)
    later = instrument.read(_truth(20.0), 1, START_MS)
    stuck = first.values[0][first.at_ms >= noon_ms]
    assert np.unique(stuck).size == 1
    assert stuck[0] == pytest.approx(7.0, abs=0.02)
    assert (later.values[0][later.at_ms >= noon_ms] == stuck[0]).all()


def test_a_drifting_one_leaves_the_truth_by_its_rate() -> None:
    """Half a day at 0.5 °C a day reads 0.25 °C too warm."""
    fault = Fault(FaultKind.DRIFT, START_MS, "a")
    (values,) = _read(sensor("a", "cooler", BARE), _truth(), fault)
    assert values[720] - 3.0 == pytest.approx(0.25, abs=0.005)
