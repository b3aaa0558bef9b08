"""Scenarios and faults go by name, and find their place on the farm."""

import pytest

from monitor.errors import UnknownNameError
from simulator.farm import SimulatedFarm
from simulator.faults import FaultKind
from simulator.scenarios import SCENARIOS, fault_at, fault_kind, scenario
from tests.simulator.farms import BARE, START_MS, farm, sensor


@pytest.mark.parametrize("name", SCENARIOS)
def test_every_scenario_can_be_played(name: str) -> None:
    """Each scenario's faults fit a farm with one place of each kind."""
    life = SimulatedFarm(farm(), 1, START_MS, scenario(farm(), name, START_MS))
    assert next(life.messages(START_MS + 600_000), None) is not None or name == "dark-gateway"


def test_every_fault_has_a_scenario() -> None:
    """No kind of fault is out of reach."""
    assert {each for each in SCENARIOS.values() if each} == set(FaultKind)


def test_a_fault_goes_by_its_name_however_it_is_written() -> None:
    """Hyphens, blanks and capitals do not matter."""
    assert fault_kind("Compressor-dead") is FaultKind.COMPRESSOR_DEAD
    assert fault_kind(" heater stuck on") is FaultKind.HEATER_STUCK_ON


def test_unknown_names_are_refused_with_the_known_ones() -> None:
    """The message lists what there is."""
    with pytest.raises(UnknownNameError, match="door-ajar"):
        fault_kind("dragon")
    with pytest.raises(UnknownNameError, match="cooler-failure"):
        scenario(farm(), "dragons", START_MS)


def test_a_farm_without_the_place_is_told_so() -> None:
    """A farm with no sensor cannot have a dead one."""
    with pytest.raises(UnknownNameError, match="the farm has no sensor for a sensor death"):
        fault_at(farm(sensors=()), FaultKind.SENSOR_DEATH, START_MS)


def test_a_named_subject_is_taken() -> None:
    """The grower's own choice wins over the first that suits."""
    two = farm(sensors=(sensor("a", "cooler", BARE), sensor("b", "cooler", BARE)))
    assert fault_at(two, FaultKind.DRIFT, START_MS).subject == "a"
    assert fault_at(two, FaultKind.DRIFT, START_MS, "b").subject == "b"
