"""A farm of one seed gives the same bytes, however its time is cut up."""

import json
from itertools import pairwise

import numpy as np
import pytest

from monitor.errors import UnknownNameError
from simulator.farm import Published, SimulatedFarm
from simulator.faults import Fault, FaultKind
from tests.simulator.farms import DAY_MS, HOUR_MS, SENSORS, START_MS, farm

END_MS = START_MS + DAY_MS


def _all(seed: int = 1, start_ms: int = START_MS) -> list[Published]:
    return list(SimulatedFarm(farm(), seed, start_ms).messages(start_ms + DAY_MS))


def test_the_same_seed_gives_the_same_bytes() -> None:
    """Two farms of one seed agree in every time, topic and byte; another seed does not."""
    assert _all() == _all()
    assert _all(seed=2) != _all()


@pytest.mark.parametrize("piece_ms", [7_777, 613_000, 5 * HOUR_MS])
def test_it_does_not_matter_how_time_is_cut(piece_ms: int) -> None:
    """Asked for in pieces of any length, the same messages come in the same order."""
    whole = [each for each in _all() if each.at_ms <= START_MS + 8 * HOUR_MS]
    life = SimulatedFarm(farm(), 1, START_MS)
    pieces: list[Published] = []
    for until_ms in range(START_MS, START_MS + 8 * HOUR_MS, piece_ms):
        pieces += life.messages(until_ms)
    pieces += life.messages(START_MS + 8 * HOUR_MS)
    assert pieces == whole


def test_messages_come_in_order_and_in_time() -> None:
    """No message is older than the one before, before the start or after the end."""
    start_ms = START_MS + 12_345
    said = _all(start_ms=start_ms)
    assert all(one.at_ms <= two.at_ms for one, two in pairwise(said))
    assert said[0].at_ms >= start_ms
    assert said[-1].at_ms <= start_ms + DAY_MS


def test_every_sensor_is_heard_by_its_interval() -> None:
    """A day gives nearly 1,440 messages a sensor: few go unheard."""
    topics = [each.topic for each in _all()]
    for each in SENSORS:
        assert 1_420 <= topics.count(each.topic) <= 1_440


def test_truth_is_what_the_sensors_read() -> None:
    """The cooler's flowers read as they are, but for noise, bias and lag."""
    truths = list(SimulatedFarm(farm(), 1, START_MS).truths(END_MS))
    at_ms = np.concatenate([each["cooler"].at_ms for each in truths])
    flowers = np.concatenate([each["cooler"].contents_c for each in truths])
    said = [each for each in _all() if each.topic == "farm/cooler-flowers"]
    off = [float(each.payload) - np.interp(each.at_ms, at_ms, flowers) for each in said]
    assert np.std(off) < 0.12
    assert abs(np.mean(off)) < 0.5


def test_a_quiet_day_stays_near_its_bands() -> None:
    """With nothing wrong the flowers and the trays stay where they should."""
    truths = list(SimulatedFarm(farm(), 3, START_MS).truths(START_MS + 5 * DAY_MS))
    flowers = np.concatenate([each["cooler"].contents_c for each in truths])
    trays = np.concatenate([each["sprouting"].contents_c for each in truths])
    assert 1.0 < np.percentile(flowers, 1) < np.percentile(flowers, 99) < 5.5
    assert 7.2 < trays.min() < trays.max() < 10.0


def test_a_device_time_is_the_moment_it_was_sent() -> None:
    """The declared time path carries the message's own second."""
    for each in _all():
        if each.topic == "farm/tunnel-air":
            assert json.loads(each.payload)["ts"] == each.at_ms // 1000


def test_a_fault_in_an_unknown_place_is_refused() -> None:
    """The refusal says what the fault needs and names what there is."""
    with pytest.raises(UnknownNameError, match="compressor_dead needs a place of the farm"):
        SimulatedFarm(farm(), 1, START_MS, [Fault(FaultKind.COMPRESSOR_DEAD, START_MS, "attic")])
    with pytest.raises(UnknownNameError, match="drift needs a sensor"):
        SimulatedFarm(farm(), 1, START_MS, [Fault(FaultKind.DRIFT, START_MS, "cooler")])
