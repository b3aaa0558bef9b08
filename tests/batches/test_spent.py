"""What a spell cost stems: expected figures are worked by hand from published rates.

Q10 3 is that of rose and gypsophila (Çelikel & Reid), borrowed for every other flower; the
relative rates 1, 3.0, 7.5, 15, 22.5 at 0, 10, 20, 30, 40 °C are USDA Agriculture Handbook 66's.
"""

from collections.abc import Sequence

import numpy as np
import pytest

from monitor.batches.spent import Kept, Spent, spent
from monitor.science.series import Samples
from monitor.science.storage_life import Q10, q10_of

MINUTE_MS, HOUR_MS = 60_000, 3_600_000
BORROWED = q10_of("ranunculus")


def air(parts: Sequence[tuple[float, float]], every_min: int = 1) -> Samples:
    """Return air of so many hours at so many [°C] each, one part after the other."""
    values = [c for hours, c in parts for _ in range(round(hours * 60 / every_min))]
    at_ms = np.arange(len(values), dtype=np.int64) * every_min * MINUTE_MS
    return Samples(at_ms, np.array(values), 3 * every_min * 60.0)


def cost(
    samples: Samples, lag_s: float, hours: tuple[float, float], at_c: float, q10: Q10 = BORROWED
) -> Spent:
    """Return the cost of a spell from one hour to another."""
    from_ms, until_ms = (round(each * HOUR_MS) for each in hours)
    found = spent(samples, lag_s, from_ms, until_ms, Kept(q10, at_c, 0))
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("warm_c", "hours", "at_c", "q10", "extra_h"),
    [
        (10.0, 5.0, 0.0, BORROWED, 10.0),  # Q10 3: 3 times as fast, so 2 h more in each hour
        (20.0, 2.0, 0.0, BORROWED, 13.0),  # handbook 7.5/3.0 above 10 °C: 7.5 times, 6.5 h more
        (12.0, 6.0, 2.0, q10_of("snapdragon"), 9.6),  # Q10 2.6: 1.6 h more in each of six
        (5.0, 8.0, 0.0, BORROWED, 5.8564),  # 3^0.5 = 1.73205: 0.73205 h more in each of eight
        (0.0, 9.0, 0.0, BORROWED, 0.0),  # no warmer than they are kept: nothing
        (-2.0, 9.0, 0.0, BORROWED, 0.0),  # colder: nothing is won back
    ],
)
def test_stems_as_warm_as_the_air_age_by_the_published_rate(
    warm_c: float, hours: float, at_c: float, q10: Q10, extra_h: float
) -> None:
    """The cost is (rate - 1) times the hours: each row's sum stands beside it."""
    found = cost(air([(hours + 1, warm_c)]), 0.0, (0.0, hours), at_c, q10)
    assert found.extra_s / 3600 == pytest.approx(extra_h, abs=1e-4)
    assert (found.most_c, found.unknown_s, found.outside_s) == (warm_c, 0.0, 0.0)


def test_stems_that_follow_slowly_cost_while_they_warm_and_while_they_cool() -> None:
    """Worked with Q10 3, kept at 0 °C, lag 1 h, air at 10 °C for 4 h.

    Stems are at 10(1 - e^-t) °C, and age 3·exp(-a·e^-t) as fast, a = ln 3. The integral of
    that less 1 is 3[4 + sum over n of (-a)^n (1 - e^-4n)/(n n!)] - 4 = 5.4870 h. They end at
    9.8168 °C, and cool: sum of (0.98168 a)^n/(n n!) = 1.4559 h. Together 6.9429 h.
    """
    found = cost(air([(8.0, 0.0), (5.0, 10.0)]), 3600.0, (8.0, 12.0), 0.0)
    assert found.extra_s / 3600 == pytest.approx(6.9429, abs=0.02)  # a step of a minute
    assert found.most_c == pytest.approx(9.8168, abs=0.01)


def test_what_is_not_known_is_counted_apart() -> None:
    """Of six hours at 10 °C forty minutes are missing: 5 h 20 min cost 2 h each hour."""
    whole = air([(7.0, 10.0)])
    kept = (whole.at_ms <= 2 * HOUR_MS) | (whole.at_ms >= 2 * HOUR_MS + 40 * MINUTE_MS)
    found = cost(Samples(whole.at_ms[kept], whole.value[kept], 180.0), 0.0, (0.0, 6.0), 0.0)
    assert (found.unknown_s, found.known_s) == (2400.0, 19_200.0)
    assert found.extra_s / 3600 == pytest.approx(2 * (5 + 1 / 3), abs=1e-4)


def test_a_gap_does_not_make_stems_as_warm_as_the_air() -> None:
    """After ten minutes unheard, stems of a lag of 5 h go on where they were, not at the air's.

    By then 70 min of 15 °C have passed, and the minute in which the air rose to it counts as
    half a one: 15(1 - e^(-70.5/300)) = 3.141 °C.
    """
    whole = air([(40.0, 0.0), (2.0, 15.0)])
    gap = (whole.at_ms > 41 * HOUR_MS) & (whole.at_ms < 41 * HOUR_MS + 10 * MINUTE_MS)
    samples = Samples(whole.at_ms[~gap], whole.value[~gap], 180.0)
    found = cost(samples, 18_000.0, (40.0, 41.0 + 1 / 6), 0.0)
    assert found.most_c == pytest.approx(3.141, abs=0.005)


def test_air_beyond_the_model_makes_it_a_least_figure() -> None:
    """Hours over 40 °C have no published rate: they are told apart, and not guessed."""
    found = cost(air([(2.0, 10.0), (2.0, 45.0)]), 0.0, (0.0, 3.0), 0.0)
    assert found.outside_s == pytest.approx(3600.0, abs=120.0)
    assert found.extra_s / 3600 == pytest.approx(4.0, abs=0.1)


def test_stems_that_came_later_lived_through_less() -> None:
    """Two of five hours at 10 °C: 4 h; one that came after it is over has no cost at all."""
    samples = air([(6.0, 10.0)])
    late = spent(samples, 0.0, 0, 5 * HOUR_MS, Kept(BORROWED, 0.0, 3 * HOUR_MS))
    assert late is not None
    assert late.extra_s / 3600 == pytest.approx(4.0, abs=1e-4)
    assert spent(samples, 0.0, 0, 5 * HOUR_MS, Kept(BORROWED, 0.0, 5 * HOUR_MS)) is None


def test_nothing_known_is_no_cost() -> None:
    """Without air in the spell there is no figure, not a nought."""
    samples = air([(1.0, 10.0)])
    assert spent(samples, 0.0, 5 * HOUR_MS, 6 * HOUR_MS, Kept(BORROWED, 0.0, 0)) is None
