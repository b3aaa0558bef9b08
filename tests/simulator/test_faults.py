"""Every fault shows itself beside the same farm without it."""

from collections.abc import Callable

import numpy as np
import pytest

from simulator.dice import Floats
from simulator.farm import SimulatedFarm
from simulator.faults import Fault, FaultKind
from simulator.truth import Truth
from tests.simulator.farms import DAY_MS, HOUR_MS, START_MS, farm

BROKEN_MS = START_MS + DAY_MS
WINTER_MS = START_MS + 290 * DAY_MS

Look = Callable[[Truth], Floats]


def _air(truth: Truth) -> Floats:
    return truth.air_c


def _contents(truth: Truth) -> Floats:
    return truth.contents_c


def _lives(fault: Fault, place: str, look: Look) -> tuple[Floats, Floats, Floats]:
    """Return times, sound and broken values of a place from the day before, of one seed."""
    found = []
    for faults in ([], [fault]):
        life = SimulatedFarm(farm(), 4, fault.start_ms - DAY_MS, faults)
        truths = list(life.truths(fault.start_ms + 36 * HOUR_MS))
        at_ms = np.concatenate([each[place].at_ms for each in truths])
        found.append(np.concatenate([look(each[place]) for each in truths]))
    return at_ms, found[0], found[1]


PLACE_CASES: list[tuple[FaultKind, str, Look, float]] = [
    (FaultKind.COMPRESSOR_DEAD, "cooler", _contents, 3.0),
    (FaultKind.COOLING_STUCK_ON, "cooler", _air, -3.0),
    (FaultKind.DOOR_AJAR, "cooler", _air, 2.0),
    (FaultKind.DEFROST_STUCK_ON, "cooler", _air, 3.0),
    (FaultKind.HEATER_DEAD, "sprouting", _contents, -1.0),
    (FaultKind.HEATER_STUCK_ON, "sprouting", _air, 1.0),
    (FaultKind.TUNNEL_CLOSED, "tunnel", _air, 3.0),
]


@pytest.mark.parametrize(("kind", "place", "look", "least"), PLACE_CASES)
def test_a_fault_of_a_place_shows_from_its_start_on(
    kind: FaultKind, place: str, look: Look, least: float
) -> None:
    """Before its start nothing differs; after it the place goes the fault's way."""
    size = 0.6 if kind is FaultKind.DOOR_AJAR else None
    began_ms = WINTER_MS if place == "sprouting" else BROKEN_MS
    at_ms, sound, broken = _lives(Fault(kind, began_ms, place, size=size), place, look)
    before = at_ms < began_ms
    assert (sound[before] == broken[before]).all()
    apart = broken[~before] - sound[~before]
    assert (apart.max() if least > 0 else -apart.min()) > abs(least)


def test_a_cooler_slowly_losing_capacity_works_harder() -> None:
    """At half of its capacity a day the compressor runs for longer, then loses the cold."""
    fault = Fault(FaultKind.CAPACITY_LOST, BROKEN_MS, "cooler", size=0.6)
    at_ms, sound, tired = _lives(fault, "cooler", lambda truth: truth.cooling)
    late = (at_ms > BROKEN_MS + 12 * HOUR_MS) & (at_ms < BROKEN_MS + 30 * HOUR_MS)
    assert tired[late].mean() > 1.2 * sound[late].mean()


def test_without_mains_every_machine_stands_still() -> None:
    """A power cut stops compressors and heaters everywhere, and the cooler warms."""
    fault = Fault(FaultKind.MAINS_OUT, BROKEN_MS, until_ms=BROKEN_MS + 6 * HOUR_MS)
    at_ms, _, cooling = _lives(fault, "cooler", lambda truth: truth.cooling)
    cut = (at_ms > BROKEN_MS) & (at_ms < BROKEN_MS + 6 * HOUR_MS)
    assert cooling[cut].sum() == 0.0
    assert cooling[at_ms > BROKEN_MS + 6 * HOUR_MS].sum() > 0.0
    _, sound, warm = _lives(fault, "cooler", _contents)
    assert (warm - sound)[cut].max() > 1.0


def test_a_frost_night_is_felt_outside_and_in_the_tunnel() -> None:
    """The tunnel's coldest hour of that night is far colder than in the same farm's other life."""
    fault = Fault(FaultKind.FROST_NIGHT, BROKEN_MS, size=-7.0)
    at_ms, mild, frosty = _lives(fault, "tunnel", _air)
    night = (at_ms > BROKEN_MS) & (at_ms < BROKEN_MS + 14 * HOUR_MS)
    assert frosty[night].min() < 0.0
    assert frosty[night].min() < mild[night].min() - 2.0
    _, _, outside = _lives(fault, "field", _air)
    assert outside[night].min() == pytest.approx(-7.0, abs=0.5)


@pytest.mark.parametrize(
    ("subject", "dark"),
    [
        ("", {"cooler", "sprouting", "tunnel", "bucket"}),
        ("cooler", {"cooler"}),
    ],
)
def test_a_dark_gateway_takes_its_sensors_with_it(subject: str, dark: set[str]) -> None:
    """The whole farm's gateway silences all, a place's gateway its own sensors."""
    fault = Fault(FaultKind.GATEWAY_DARK, START_MS + 6 * HOUR_MS, subject)
    life = SimulatedFarm(farm(), 1, START_MS, [fault])
    last = {each.topic: each.at_ms for each in life.messages(START_MS + 12 * HOUR_MS)}
    for sensor in farm().sensors.values():
        silent = last[sensor.topic] < START_MS + 6 * HOUR_MS
        assert silent == (sensor.place in dark)


@pytest.mark.parametrize("kind", [FaultKind.SENSOR_DEATH, FaultKind.STUCK_VALUE, FaultKind.DRIFT])
def test_a_broken_sensor_leaves_its_neighbour_alone(kind: FaultKind) -> None:
    """Only the broken sensor's messages differ from those of the sound farm."""
    fault = Fault(kind, START_MS + 2 * HOUR_MS, "cooler-air", size=4.0)
    lives = [
        list(SimulatedFarm(farm(), 1, START_MS, faults).messages(START_MS + 6 * HOUR_MS))
        for faults in ([], [fault])
    ]
    changed = {each.topic for each in set(lives[0]) ^ set(lives[1])}
    assert changed == {"farm/cooler-air"}


def test_a_fault_that_ends_is_over() -> None:
    """Outside its time a fault has no strength."""
    fault = Fault(FaultKind.DRIFT, 1_000, "x", until_ms=2_000)
    assert fault.active(np.array([999, 1_000, 1_999, 2_000])).tolist() == [0.0, 1.0, 1.0, 0.0]
