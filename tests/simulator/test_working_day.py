"""People open doors by day; the timer defrosts by day and night."""

from zoneinfo import ZoneInfo

import numpy as np

from simulator.surroundings import hours_of_day
from simulator.working_day import Habits, WorkingDays
from tests.simulator.farms import DAY_MS, START_MS

ZONE = ZoneInfo("America/New_York")
AT_MS = START_MS + 60_000 * np.arange(1, 60 * 1_440 + 1, dtype=np.int64)


def test_doors_stay_shut_at_night() -> None:
    """Nobody opens before six or after eight in the evening."""
    work = WorkingDays(Habits(), ZONE, 3, "cooler").work(AT_MS, 60.0)
    hour = hours_of_day(ZONE, AT_MS)[work.door > 0.0]
    assert 6.0 < hour.min() < hour.max() < 20.5


def test_doors_open_as_often_as_is_usual_there() -> None:
    """The open time of two months lies near openings times length (mean of a lognormal)."""
    habits = Habits(doors_a_day=12.0, door_s=40.0, loads_a_day=0.0)
    work = WorkingDays(habits, ZONE, 4, "cooler").work(AT_MS, 60.0)
    usual_s = 12.0 * 40.0 * np.exp(0.7**2 / 2.0) * 60 * (6 + 0.4) / 7
    assert 0.8 < work.door.sum() * 60.0 / usual_s < 1.2


def test_work_does_not_depend_on_how_time_is_cut() -> None:
    """Two months in pieces are the same two months."""
    days = WorkingDays(Habits(), ZONE, 5, "cooler")
    whole = days.work(AT_MS, 60.0)
    parts = [days.work(part, 60.0) for part in np.split(AT_MS, [700, 5_000, 5_001])]
    assert np.allclose(np.concatenate([each.door for each in parts]), whole.door, atol=1e-9)
    assert (np.concatenate([each.load for each in parts]) == whole.load).all()
    assert (np.concatenate([each.defrost for each in parts]) == whole.defrost).all()


def test_the_timer_defrosts_as_often_and_as_long_as_set() -> None:
    """Four defrosts of 25 minutes a day make 100 minutes, none of them split unevenly."""
    work = WorkingDays(Habits(defrosts_a_day=4, defrost_s=1_500.0), ZONE, 6, "c").work(AT_MS, 60.0)
    starts = np.flatnonzero(np.diff(work.defrost) > 0)
    assert work.defrost.sum() * 60.0 / (60 * 86_400) * 86_400 == 4 * 1_500.0
    assert set(np.diff(starts)) == {360}


def test_loads_come_on_working_mornings() -> None:
    """New stems come in between eight and noon, at most once a day."""
    work = WorkingDays(Habits(loads_a_day=1.0), ZONE, 7, "c").work(AT_MS, 60.0)
    rows = np.flatnonzero(work.load)
    hour = hours_of_day(ZONE, AT_MS[rows])
    assert rows.size > 40
    assert (np.diff(AT_MS[rows]) > DAY_MS // 2).all()
    assert 8.0 < hour.min() < hour.max() < 12.0
