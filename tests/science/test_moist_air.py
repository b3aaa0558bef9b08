"""Moist air: ranges are refused by name, and what has no answer is marked."""

from collections.abc import Callable

import numpy as np
import pytest

from monitor.errors import OutOfRangeError
from monitor.science import moist_air


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: moist_air.saturation_over_water_pa(101.0), "temperature is 101 °C"),
        (lambda: moist_air.saturation_over_water_pa(-41.0), "-40 to 100"),
        (lambda: moist_air.saturation_over_ice_pa(0.5), "over ice is 0.5 °C"),
        (lambda: moist_air.vapour_pressure_pa(20.0, 100.5), "relative humidity is 100.5 %"),
        (lambda: moist_air.vapour_pressure_pa(20.0, -1.0), "0 to 100 %"),
        (lambda: moist_air.vapour_pressure_pa(float("nan"), 50.0), "temperature is nan"),
        (lambda: moist_air.dew_point_c(2e5), "vapour pressure is 200000"),
        (lambda: moist_air.frost_point_c(-1.0), "vapour pressure is -1"),
        (lambda: moist_air.relative_humidity_pct(5.0, 6.0), "air less dew point is -1 K"),
        (lambda: moist_air.absolute_humidity_g_m3(150.0, 900.0), "air temperature is 150"),
        (lambda: moist_air.humidity_ratio(900.0, 1013.0), "air pressure is 1013 Pa"),
        (lambda: moist_air.humidity_ratio(60_000.0), "vapour pressure is 60000"),
        (lambda: moist_air.wet_bulb_c(70.0, 50.0), "air temperature is 70 °C"),
    ],
)
def test_figures_out_of_range_are_refused(call: Callable[[], object], said: str) -> None:
    """The message names the figure, its unit and what is taken."""
    with pytest.raises(OutOfRangeError, match=said):
        call()


def test_the_first_bad_element_of_an_array_is_named() -> None:
    """One bad reading among many is pointed at, not averaged away."""
    with pytest.raises(OutOfRangeError, match=r"28264 °C \(element 2\)"):
        moist_air.saturation_over_water_pa(np.array([1.0, 2.0, 28_264.0]))


def test_air_too_dry_for_the_formula_has_no_dew_point() -> None:
    """A dew point under -40 °C is marked as unknown, never guessed."""
    dew = moist_air.dew_point_c(moist_air.vapour_pressure_pa(np.array([-30.0, 20.0]), 1.0))
    assert np.isnan(dew[0])
    assert np.isfinite(dew[1])


def test_there_is_no_frost_point_over_freezing() -> None:
    """Moist air over 0 °C condenses as water: its frost point is marked as none."""
    assert np.isnan(moist_air.frost_point_c(moist_air.vapour_pressure_pa(10.0, 90.0)))


def test_supersaturated_cold_air_has_no_wet_bulb() -> None:
    """At -5 °C, 99 % over water is over 100 % over ice: no iced bulb is defined."""
    assert np.isnan(moist_air.wet_bulb_c(-5.0, 99.0))


def test_saturated_air_meets_itself() -> None:
    """At 100 % dew point, wet bulb and air are one, and the deficit is nothing."""
    air = np.array([0.5, 10.0, 30.0])
    np.testing.assert_allclose(
        moist_air.dew_point_c(moist_air.vapour_pressure_pa(air, 100.0)), air, atol=1e-9
    )
    np.testing.assert_allclose(moist_air.wet_bulb_c(air, 100.0), air, atol=1e-5)
    np.testing.assert_allclose(moist_air.deficit_pa(air, 100.0), 0.0, atol=1e-9)


def test_the_frost_point_lies_over_the_dew_point() -> None:
    """Below 0 °C ice takes vapour sooner than water does."""
    vapour = moist_air.vapour_pressure_pa(np.linspace(-30.0, -1.0, 30), 80.0)
    assert (moist_air.frost_point_c(vapour) > moist_air.dew_point_c(vapour)).all()


def test_shapes_broadcast() -> None:
    """Figures and arrays mix as numpy's do."""
    grid = moist_air.vapour_pressure_pa(np.array([[5.0], [10.0]]), np.array([50.0, 60.0, 70.0]))
    assert grid.shape == (2, 3)
    assert float(moist_air.dew_point_c(500.0)) < 0.0
