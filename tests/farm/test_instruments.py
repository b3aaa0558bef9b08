"""Calibration is applied on reading, by date."""

import numpy as np
import pytest

from monitor.farm import Calibration, ChannelSpec, calibrated
from monitor.model import Quantity
from tests.farm.folders import Folder

AT = np.array([0, 10, 20, 30], dtype=np.int64)


def test_a_calibration_holds_from_its_date_to_the_next() -> None:
    """Before the first calibration values are as read; from each on, its line holds."""
    spec = ChannelSpec(
        Quantity.TEMPERATURE,
        calibrations=(Calibration(10, 0.5), Calibration(30, 1.0, slope=2.0)),
    )
    got = calibrated(spec, AT, np.array([2.0, 2.0, 3.0, 4.0]))
    assert got.tolist() == [2.0, 2.5, 3.5, 9.0]


def test_humidity_is_held_to_a_hundred_after_calibration() -> None:
    """103.6 % is used as 100, a share never falls below 0, and what was read stays."""
    spec = ChannelSpec(Quantity.HUMIDITY, unit="%", calibrations=(Calibration(20, -4.0),))
    raw = np.array([103.6, 98.0, 103.6, 2.0])
    assert calibrated(spec, AT, raw).tolist() == pytest.approx([100.0, 98.0, 99.6, 0.0])
    assert raw[0] == 103.6


def test_no_reading_is_no_value() -> None:
    """An empty pack stays empty."""
    spec = ChannelSpec(Quantity.TEMPERATURE, calibrations=(Calibration(10, 0.5),))
    assert calibrated(spec, AT[:0], np.array([])).shape == (0,)


def test_a_calibration_day_begins_at_the_farm(folder: Folder) -> None:
    """A date is midnight in the farm's zone; an offset in °F is a difference."""
    folder.change(
        "farm.toml", 'quantity = "soil_temperature"\nunit = "F"',
        'quantity = "soil_temperature"\nunit = "F"\n[[sensor.channel.calibration]]\n'
        'since = 2026-03-14\noffset = "-0.9 F"\nnote = "ice bath"',
    )  # fmt: skip
    (one,) = folder.load().sensors["tunnel-2-soil"].channels[0].calibrations
    assert one.since_ms == 1_773_460_800_000  # 2026-03-14 04:00 UTC: summer time since the 8th
    assert one.offset == pytest.approx(-0.5)
    assert one.slope == 1.0


def test_what_no_sensor_can_have_sent_is_no_value() -> None:
    """A wild number in a damaged file is unknown, not 1e200 degrees."""
    spec = ChannelSpec(Quantity.TEMPERATURE)
    got = calibrated(spec, AT, np.array([1e200, -1e9, 3.0, np.inf]))
    assert np.isnan(got[[0, 1, 3]]).all()
    assert got[2] == 3.0
