"""The early warning on a measured machine with labelled failures, beside a plain limit.

The series is the Numenta Anomaly Benchmark's machine temperature, five-minute values over
eleven weeks with four labelled windows (A. Lavin, S. Ahmad: Evaluating Real-Time Anomaly
Detection Algorithms, 2015). Its failures are falls, so it is judged upside down: a
cooler's failures are rises. Nothing was tuned on it.
"""

import csv
import gzip
import json
from datetime import UTC, datetime

import numpy as np

from monitor.watch.events import Times, Values
from monitor.watch.warming import advance, newborn
from tests.benchmarks.alarm_trial.detectors import runs
from tests.shared_files import shared

_SERIES = "data/nab_machine_temperature_system_failure.csv.gz"
_LIMIT_F = 40.0
_HELD_MS = 15 * 60_000


def _series() -> tuple[Times, Values]:
    with gzip.open(shared(_SERIES), "rt", encoding="utf-8") as lines:
        rows = list(csv.DictReader(lines))
    at_ms, first = np.unique([_ms(each["timestamp"]) for each in rows], return_index=True)
    return at_ms, np.array([float(each["value"]) for each in rows])[first]


def _windows() -> list[tuple[int, int]]:
    labels = json.loads(shared("data/nab_labels.json").read_text(encoding="utf-8"))
    found = labels["machine_temperature_system_failure.csv"]["windows"]
    return [(_ms(first), _ms(last)) for first, last in found]


def _ms(text: str) -> int:
    return int(datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp() * 1000)


def _early(at_ms: Times, value_f: Values) -> Times:
    seen = advance(newborn(), at_ms, -(value_f - 32.0) / 1.8)
    told = [*(each.rising for each in seen.ended), seen.warming.told]
    raised = [each.raised_ms for each in told if each is not None and each.raised_ms is not None]
    return np.array(sorted(raised), dtype=np.int64)


def _plain(at_ms: Times, value_f: Values) -> Times:
    first, last = runs(value_f < _LIMIT_F)
    long = at_ms[last] - at_ms[first] >= _HELD_MS
    return np.asarray(at_ms[first][long] + _HELD_MS)


def _inside(told_ms: Times, windows: list[tuple[int, int]]) -> list[int | None]:
    """Return the first telling within each window. [ms]"""
    return [
        next((each for each in told_ms.tolist() if first <= each <= last), None)
        for first, last in windows
    ]


def test_measured_failures_are_told_earlier_than_by_a_limit_and_more_of_them() -> None:
    """The limit finds two of four; habits find three, each of those two hours before it."""
    at_ms, value_f = _series()
    windows = _windows()
    early = _inside(_early(at_ms, value_f), windows)
    plain = _inside(_plain(at_ms, value_f), windows)
    assert sum(each is not None for each in plain) == 2  # as the handbook of the data counts
    assert sum(each is not None for each in early) >= 3
    for ours, theirs in zip(early, plain, strict=True):
        if theirs is not None:
            assert ours is not None
            assert theirs - ours > 2 * 3_600_000


def test_outside_the_labelled_windows_it_is_told_at_most_twice_in_eleven_weeks() -> None:
    """Needless tellings: under one a month, the aim for a quiet farm."""
    at_ms, value_f = _series()
    windows = _windows()
    told = _early(at_ms, value_f).tolist()
    outside = [each for each in told if not any(first <= each <= last for first, last in windows)]
    months = (int(at_ms[-1]) - int(at_ms[0])) / (30 * 86_400_000)
    assert len(outside) / months < 1.0
