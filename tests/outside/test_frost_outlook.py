"""The frost outlook scored on measured nights it was not fitted to."""

import numpy as np
import pytest

from monitor.science import frost_prior
from tests.outside import frost_nights, frost_score
from tests.outside.frost_nights import Nights
from tests.outside.frost_score import Scored
from tests.outside.frost_winter import winter_errors_k
from tests.shared_files import shared

pytestmark = pytest.mark.outside
shared("data/frost_nights_table.csv.gz")


@pytest.fixture(scope="module")
def nights() -> Nights:
    """Return the measured nights."""
    return frost_nights.load()


@pytest.fixture(scope="module")
def at_19h(nights: Nights) -> Scored:
    """Return the outlooks at the plain prior's own hour."""
    return frost_score.score(nights, 19)


@pytest.fixture(scope="module")
def at_21h(nights: Nights) -> Scored:
    """Return the outlooks two hours later, after dusk in every season."""
    return frost_score.score(nights, 21)


def test_the_shipped_coefficients_are_the_fit(nights: Nights) -> None:
    """The pooled figures in the code are the least squares over all nights."""
    fitted = frost_nights.fit(nights, np.ones(len(nights.least_c), dtype=np.bool_))
    np.testing.assert_allclose(frost_prior.POOLED.without_fall, fitted.without_fall, atol=2e-5)
    np.testing.assert_allclose(frost_prior.POOLED.with_fall, fitted.with_fall, atol=2e-5)


@pytest.mark.parametrize("month", [4, 10])
def test_spring_and_autumn_frosts_are_caught_better(
    nights: Nights, at_19h: Scored, at_21h: Scored, month: int
) -> None:
    """In April and October as many warnings catch more frosts than the plain 19 h prior."""
    for scored in (at_19h, at_21h):
        for warning_c in (2.0, 3.5):
            plain = frost_score.line(nights, month, nights.plain_19h_c <= warning_c)
            ours = frost_score.line(
                nights, month,
                frost_score.as_many(nights, month, scored.chance, plain.warnings),
            )  # fmt: skip
            assert ours.caught_share >= plain.caught_share
            assert ours.needless_share <= plain.needless_share
    plain = frost_score.line(nights, month, nights.plain_19h_c <= 3.5)
    later = frost_score.line(
        nights, month, frost_score.as_many(nights, month, at_21h.chance, plain.warnings)
    )
    assert later.caught_share > plain.caught_share + 0.05


def test_the_plain_prior_misses_april(nights: Nights) -> None:
    """The published weakness shows here too: 39 % of April's frosts at 2 °C, 60 % of October's."""
    april = frost_score.line(nights, 4, nights.plain_19h_c <= 2.0)
    october = frost_score.line(nights, 10, nights.plain_19h_c <= 2.0)
    assert april.caught_share == pytest.approx(0.39, abs=0.01)
    assert october.caught_share == pytest.approx(0.60, abs=0.01)


def test_a_stated_chance_is_kept(nights: Nights, at_21h: Scored) -> None:
    """Of nights given a chance, about that share freezes, in every band of chances."""
    frost = nights.least_c <= 0.0
    for low, high in ((0.05, 0.15), (0.15, 0.3), (0.3, 0.5), (0.5, 0.7), (0.7, 0.9)):
        band = (at_21h.chance >= low) & (at_21h.chance < high)
        told = float(at_21h.chance[band].mean())
        assert float(frost[band].mean()) == pytest.approx(told, abs=0.06)


@pytest.mark.parametrize("month", [1, 2, 3, 4, 10, 11, 12])
def test_chances_add_up_to_the_months_frosts(nights: Nights, at_21h: Scored, month: int) -> None:
    """Summed over a month the chances come to its frosts, within a quarter."""
    inside = nights.month == month
    frosts = int((nights.least_c[inside] <= 0.0).sum())
    assert float(at_21h.chance[inside].sum()) == pytest.approx(frosts, rel=0.25)


def test_own_nights_take_over_at_some_stations(nights: Nights, at_21h: Scored) -> None:
    """The switch to a station's own regression happens, and not everywhere."""
    assert 0 < at_21h.from_own_nights < len(nights.least_c) / 2


def test_the_mean_error_is_under_the_plain_priors(
    nights: Nights, at_19h: Scored, at_21h: Scored
) -> None:
    """At the same hour the error is smaller, and two hours later smaller still."""
    plain = float(np.mean(np.abs(nights.plain_19h_c - nights.least_c)))
    same = float(np.nanmean(np.abs(at_19h.least_c - nights.least_c)))
    later = float(np.nanmean(np.abs(at_21h.least_c - nights.least_c)))
    assert later < same < plain


def test_a_winter_elsewhere_is_forecast_as_well() -> None:
    """A Dutch winter, outside every fit: the mean error of the pooled figure stays under 1.8 K."""
    shared("data/nl2009_winter_5min.csv.gz")
    errors = winter_errors_k()
    assert len(errors) > 60
    assert float(np.mean(np.abs(errors))) < 1.8
