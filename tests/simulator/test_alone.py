"""One cooler alone lives as long as a trial needs, sound or broken."""

from zoneinfo import ZoneInfo

import numpy as np
import pytest

from monitor.errors import OutOfRangeError
from simulator.alone import around_cooler, play_cooler
from simulator.cooler import CoolerSize, random_size
from simulator.dice import dice
from simulator.faults import Fault, FaultKind
from simulator.surroundings import Surroundings
from simulator.weather import Climate
from simulator.working_day import Habits
from tests.simulator.farms import DAY_MS, START_MS

ZONE = ZoneInfo("America/New_York")
BROKEN_MS = START_MS + 3 * DAY_MS


@pytest.fixture(scope="module")
def around() -> Surroundings:
    """Return five days around a cooler."""
    return around_cooler(Climate(41.0, -75.0), ZONE, 3, START_MS, days=5.0)


def test_the_same_seed_lives_the_same_life(around: Surroundings) -> None:
    """Two runs agree in every value; another seed has other doors."""
    one, two = (play_cooler(CoolerSize(), Habits(), around, ZONE, 1) for _ in range(2))
    other = play_cooler(CoolerSize(), Habits(), around, ZONE, 2)
    assert (one.air_c == two.air_c).all()
    assert (one.door != other.door).any()


@pytest.mark.parametrize("seed", range(8))
def test_a_dead_compressor_warms_air_before_contents(around: Surroundings, seed: int) -> None:
    """Up to the failure both lives agree; after it air passes a limit before the contents do."""
    size = random_size(dice(seed, "size"))
    fault = Fault(FaultKind.COMPRESSOR_DEAD, BROKEN_MS)
    sound = play_cooler(size, Habits(), around, ZONE, seed)
    broken = play_cooler(size, Habits(), around, ZONE, seed, faults=(fault,))
    before = around.at_ms < BROKEN_MS
    assert (sound.air_c[before] == broken.air_c[before]).all()
    limit_c = size.high_c + 2.0
    air = int(np.argmax(broken.air_c[~before] > limit_c))
    contents = int(np.argmax(broken.contents_c[~before] > limit_c))
    assert 0 < air < contents


def test_defrosts_and_doors_lift_a_sound_coolers_air(around: Surroundings) -> None:
    """Two to six defrosts a day lift the air by some degrees, and the flowers by less."""
    truth = play_cooler(CoolerSize(), Habits(defrosts_a_day=4), around, ZONE, 5)
    usual_c = float(np.median(truth.air_c))
    assert 1.0 < truth.air_c.max() - usual_c < 12.0
    assert np.ptp(truth.contents_c) < np.ptp(truth.air_c)


def test_no_time_at_all_is_refused() -> None:
    """Fewer than two steps have no length."""
    with pytest.raises(OutOfRangeError, match="at least two steps"):
        around_cooler(Climate(41.0, -75.0), ZONE, 3, START_MS, days=0.0)
