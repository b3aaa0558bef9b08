"""Grey mould: wet hours by a named surrogate, and a model that knows its range."""

import numpy as np
import pytest

from monitor.errors import OutOfRangeError
from monitor.science import mould
from monitor.science.mould import Surrogate
from monitor.science.series import Samples

HOUR_MS = 3_600_000


def _hours(values: list[float]) -> Samples:
    at_ms = np.arange(len(values), dtype=np.int64) * HOUR_MS
    return Samples(at_ms, np.array(values, dtype=np.float64), 7200.0)


NIGHT = np.array([[0, 12 * HOUR_MS]], dtype=np.int64)


def test_air_at_ninety_percent_counts_as_wet() -> None:
    """The limit itself is wet; the hours run on the line between readings."""
    humid = _hours([80.0] * 5 + [90.0] * 8)
    found = mould.wet_nights(humid, Surrogate.HUMID_AIR, NIGHT)
    assert found.wet_h.tolist() == pytest.approx([8.0 - 1.0])
    assert found.surrogate is Surrogate.HUMID_AIR


def test_a_surface_at_the_dew_point_counts_as_wet() -> None:
    """A stem colder than the dew point of its air is wet, a warmer one is not."""
    air, humidity = np.full(13, 12.0), np.full(13, 85.0)
    margin = mould.dew_margin(_hours([8.0] * 13), air, humidity)
    assert (margin.value < 0.0).all()
    found = mould.wet_nights(margin, Surrogate.UNDER_DEW_POINT, NIGHT)
    assert found.wet_h.tolist() == [12.0]
    dry = mould.dew_margin(_hours([12.0] * 13), air, humidity)
    assert mould.wet_nights(dry, Surrogate.UNDER_DEW_POINT, NIGHT).wet_h.tolist() == [0.0]


def test_a_night_mostly_unknown_has_no_wet_hours() -> None:
    """Under three quarters known the figure is marked as unknown, not as nought."""
    found = mould.wet_nights(_hours([95.0] * 6), Surrogate.HUMID_AIR, NIGHT)
    assert np.isnan(found.wet_h[0])
    assert found.coverage[0] == pytest.approx(5 / 12)


def test_a_night_is_told_against_this_tunnels_normal() -> None:
    """Eleven hours are unusual where six are normal, and normal where every night has them."""
    past = np.array([5.0, 6.0, 6.5, 5.5, 7.0, 6.0, np.nan, 6.2])
    told = mould.against_normal(11.0, past)
    assert told is not None
    assert (told.nights, told.wetter_than_share) == (7, 1.0)
    assert told.normal_h == pytest.approx(6.0)
    humid = mould.against_normal(11.0, np.full(9, 11.5))
    assert humid is not None
    assert humid.wetter_than_share == 0.0


def test_normal_needs_a_week_of_nights() -> None:
    """Six nights are no normal; an unknown night stands against nothing."""
    assert mould.against_normal(9.0, np.full(6, 5.0)) is None
    assert mould.against_normal(float("nan"), np.full(9, 5.0)) is None


@pytest.mark.parametrize(
    ("wet_h", "wet_c"), [(3.9, 20.0), (20.1, 20.0), (12.0, 11.9), (12.0, 30.1), (12.0, 2.0)]
)
def test_outside_its_range_the_model_says_nothing(wet_h: float, wet_c: float) -> None:
    """In a cooler, or after an hour's wetness, there is no figure and the mask tells."""
    assert np.isnan(mould.broome_probability(wet_h, wet_c))
    assert not mould.broome_in_range(wet_h, wet_c)


def test_figures_that_are_none_are_refused() -> None:
    """Negative hours and temperatures that are no number are errors."""
    with pytest.raises(OutOfRangeError, match="wet hours is -1"):
        mould.broome_probability(-1.0, 20.0)
    with pytest.raises(OutOfRangeError, match="temperature is nan"):
        mould.broome_probability(10.0, float("nan"))
    with pytest.raises(OutOfRangeError, match="the period"):
        mould.wet_nights(_hours([1.0]), Surrogate.HUMID_AIR, np.array([[5, 5]]))
