"""The heat outlook on two measured tunnels, each day judged from the days before it."""

from datetime import date, datetime, timedelta
from typing import Final

import numpy as np
import pytest

from monitor.science import sun, tunnel_heat
from monitor.science.checking import Floats
from monitor.science.series import Samples
from monitor.science.tunnel_heat import GRID_STEPS, Basis, Passing
from tests.outside.checking import column, rows
from tests.shared_files import shared

_LOGGERS: Final = {
    "tunnel_g1_trh_1": "T_C",
    "tunnel_g1_trh_2": "T_C",
    "tunnel_g2_trh_3": "T_C",
    "tunnel_g1_temp_4ch_1": "T1_C",
    "tunnel_g1_temp_4ch_2": "T3_C",
    "tunnel_g2_temp_4ch_2": "T2_C",
    "tunnel_g1_ref_airtemp": "T_C",
}
_PLACE: Final = (45.4, 11.0)  # north-east Italy; the tunnels' own position is not published
_LIMIT_C: Final = 24.0  # 75 °F
_JUDGED_H: Final = 2
_NOW: Final = _JUDGED_H * 6
_DAYLIGHT: Final = 54  # nine hours: the course must be known that far

pytestmark = pytest.mark.outside
for _logger in _LOGGERS:
    shared(f"data/{_logger}.csv.gz")


def _courses(logger: str, channel: str) -> Floats:
    """Return every day's course from sunrise, from plausible readings only."""
    table = [row for row in rows(f"data/{logger}.csv.gz") if row["local_time"]]
    stamps = [datetime.fromisoformat(row["local_time"] + "+01:00") for row in table]
    at_ms = np.array([round(stamp.timestamp() * 1000.0) for stamp in stamps], dtype=np.int64)
    value = column(table, channel)
    order = np.unique(at_ms, return_index=True)[1]
    order = order[(value[order] > -20.0) & (value[order] < 60.0)]
    air = Samples(at_ms[order], value[order], 1800.0)
    day, last, courses = stamps[0].date(), stamps[-1].date(), []
    while day < last:
        courses.append(_course(air, day))
        day += timedelta(days=1)
    return np.stack(courses)


def _course(air: Samples, day: date) -> Floats:
    rise_ms = sun.sun_times(day, *_PLACE).rise_ms
    if rise_ms is None:
        raise ValueError("the sun rises every day at 45 degrees")
    return tunnel_heat.day_course_c(air, rise_ms)


def _truth_h(course: Floats) -> float:
    over = np.flatnonzero(np.nan_to_num(course[_NOW:], nan=-np.inf) >= _LIMIT_C)
    return float((_NOW + over[0]) / 6.0) if over.size else float("inf")


@pytest.fixture(scope="module")
def judged() -> tuple[list[Passing], Floats]:
    """Return what was told two hours after sunrise, and when each day passed 75 °F. [h]"""
    told, truth = [], []
    for logger, channel in _LOGGERS.items():
        courses = _courses(logger, channel)
        for k in range(30, len(courses)):
            today = np.where(np.arange(GRID_STEPS) <= _NOW, courses[k], np.nan)
            found = tunnel_heat.passing(today, courses[k - 30 : k], _LIMIT_C)
            if found is not None and not np.isnan(courses[k][:_DAYLIGHT]).any():
                told.append(found)
                truth.append(_truth_h(courses[k]))
    return told, np.array(truth)


def _of(judged: tuple[list[Passing], Floats], basis: Basis) -> tuple[Floats, Floats]:
    """Return (early, middle, late) and the truth of the days told on one basis."""
    told, truth = judged
    which = np.array([found.basis is basis for found in told])
    return np.array([found[:3] for found in told])[which], truth[which]


def test_the_hour_is_told_to_half_an_hour(judged: tuple[list[Passing], Floats]) -> None:
    """On days told to pass 75 °F that did, the middle is off by under half an hour."""
    told, truth = _of(judged, Basis.OWN_DAYS)
    passed = np.isfinite(truth) & np.isfinite(told[:, 1])
    assert passed.sum() > 100
    assert float(np.median(np.abs(told[passed, 1] - truth[passed]))) < 0.5


def test_the_range_holds_what_it_says(judged: tuple[list[Passing], Floats]) -> None:
    """The 80 % range holds at least three quarters of the days that passed, and of all."""
    told, truth = _of(judged, Basis.OWN_DAYS)
    held = (told[:, 0] - 0.1 <= truth) & (truth <= told[:, 2] + 0.1)
    assert held[np.isfinite(truth)].mean() > 0.75
    assert held.mean() > 0.75


def test_days_that_pass_are_told_apart(judged: tuple[list[Passing], Floats]) -> None:
    """Told to pass, at least four days in five do; told never to, at most one in five."""
    told, truth = _of(judged, Basis.OWN_DAYS)
    says = np.isfinite(told[:, 1])
    assert np.isfinite(truth[says]).mean() > 0.8
    assert np.isfinite(truth[~says]).mean() < 0.2


def test_the_climb_alone_is_worse_and_wider(judged: tuple[list[Passing], Floats]) -> None:
    """Without own days the range is wide, and holds most of the days that passed."""
    told, truth = _of(judged, Basis.CLIMB_ALONE)
    passed = np.isfinite(truth)
    held = (told[passed, 0] - 0.1 <= truth[passed]) & (truth[passed] <= told[passed, 2] + 0.1)
    assert passed.sum() > 20
    assert held.mean() > 0.7
