"""A failed cooler: ranges, never a false minute."""

import numpy as np
import pytest

from monitor.errors import OutOfRangeError
from monitor.science import warm_up
from monitor.science.series import Samples


def _failure(minutes: int, noise_k: float = 0.05, seed: int = 1) -> Samples:
    at_min = np.arange(minutes + 1)
    noise = np.random.default_rng(seed).normal(0.0, noise_k, minutes + 1)
    air_c = 22.0 - 20.0 * np.exp(-at_min / 150.0) + noise
    return Samples(at_min.astype(np.int64) * 60_000, air_c, 180.0)


def test_the_range_narrows_as_readings_come_in() -> None:
    """Ten minutes give a wide range, forty a narrow one around the truth of 53.5 min."""
    widths = []
    for minutes in (10, 20, 40):
        reach = warm_up.air_reaches(warm_up.fit(_failure(minutes), 22.0, 0.05), 8.0)
        assert reach.early_s <= reach.middle_s <= reach.late_s
        assert reach.early_s / 60.0 + minutes < 53.5 < reach.late_s / 60.0 + minutes
        widths.append(reach.late_s - reach.early_s)
    assert widths == sorted(widths, reverse=True)


@pytest.mark.parametrize(("minutes", "noise_k"), [(10, 0.05), (20, 0.1), (30, 0.05)])
def test_the_range_holds_the_truth_as_often_as_it_says(minutes: int, noise_k: float) -> None:
    """Of simulated failures with the room known to 2 K, 90 % fall in the 90 % range."""
    dice = np.random.default_rng(minutes)
    held = 0
    for k in range(300):
        fits = warm_up.fit(_failure(minutes, noise_k, k), 22.0 + dice.normal(0.0, 2.0), noise_k)
        reach = warm_up.air_reaches(fits, 8.0)
        held += reach.early_s <= 53.5012 * 60.0 - minutes * 60.0 <= reach.late_s
    assert 0.84 <= held / 300 <= 0.94


def test_a_limit_over_the_room_may_never_be_passed() -> None:
    """Where the room is hardly warmer than the limit, the late end is never and a chance."""
    reach = warm_up.air_reaches(warm_up.fit(_failure(20), 22.0, 0.05), 23.0)
    assert reach.late_s == float("inf")
    assert 0.0 < reach.chance < 0.6


def test_a_limit_already_passed_takes_no_time() -> None:
    """Now is the answer where the air is over the limit."""
    assert float(warm_up.time_to_limit_s(9.0, 8.0, 22.0, 9000.0)) == 0.0
    assert float(warm_up.time_to_limit_s(2.0, 8.0, 7.0, 9000.0)) == float("inf")


def test_contents_pass_a_limit_after_the_air() -> None:
    """Contents lag: they reach the limit later, and later still with a longer lag."""
    fits = warm_up.fit(_failure(30), 22.0, 0.05)
    air = warm_up.air_reaches(fits, 8.0).middle_s
    short = warm_up.contents_reach(fits, 3.0, 1800.0, 8.0).middle_s
    long = warm_up.contents_reach(fits, 3.0, 7200.0, 8.0).middle_s
    assert air < short < long
    assert warm_up.contents_reach(fits, 9.0, 1800.0, 8.0).late_s == 0.0


def test_contents_never_pass_a_limit_over_the_room() -> None:
    """Where the room itself stays under the limit the contents do too."""
    fits = warm_up.fit(_failure(30), 22.0, 0.05)
    reach = warm_up.contents_reach(fits, 3.0, 1800.0, 30.0)
    assert (reach.early_s, reach.chance) == (float("inf"), 0.0)


def test_a_room_less_known_widens_the_range() -> None:
    """The room's own error is most of the range in the first half hour."""
    spans = []
    for room_sd_k in (0.5, 2.0, 4.0):
        fits = warm_up.fit(_failure(10, noise_k=0.02), 22.0, 0.02, room_sd_k)
        reach = warm_up.air_reaches(fits, 16.0)
        spans.append(reach.late_s - reach.early_s)
    assert spans[0] < 0.7 * spans[1] < 0.7 * spans[2]


def test_what_is_no_warm_up_is_refused() -> None:
    """Falling air, a room colder than the air, or three readings give no forecast."""
    cooling = Samples(np.arange(5) * 60_000, np.array([5.0, 4.9, 4.7, 4.6, 4.4]), 180.0)
    with pytest.raises(OutOfRangeError, match="no warm-up"):
        warm_up.fit(cooling, 22.0, 0.05)
    with pytest.raises(OutOfRangeError, match="no warm-up"):
        warm_up.fit(_failure(20), -9.0, 0.05)
    with pytest.raises(OutOfRangeError, match="at least 4"):
        warm_up.fit(_failure(2), 22.0, 0.05)
    with pytest.raises(OutOfRangeError, match="noise"):
        warm_up.fit(_failure(20), 22.0, 0.0)
