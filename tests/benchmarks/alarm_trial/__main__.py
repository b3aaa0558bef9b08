"""Print the alarm trial's table: ``python -m tests.benchmarks.alarm_trial [--seeds N]``.

One table for coolers of the simulator, one for coolers made quite another way. Seeds 1
and 2 of both served for tuning; the tables begin at 101.
"""

import argparse
import sys
from typing import Final

import numpy as np

from tests.benchmarks.alarm_trial.coolers import Month, months
from tests.benchmarks.alarm_trial.detectors import (
    Detector,
    cusum,
    ewma,
    habits,
    held,
    longest,
    needless,
    share_left,
)
from tests.benchmarks.alarm_trial.other_coolers import other_months
from tests.benchmarks.alarm_trial.whole_watch import whole_watch

_FIRST_SEED: Final = 101
_MONTH_DAYS: Final = 30.0
_DETECTORS: Final[dict[str, Detector]] = {
    "early warning by habits": habits,
    "the whole watch": whole_watch,
    "plain limit on air": held(0.0),
    "held 15 min": held(15.0),
    "held 30 min": held(30.0),
    "held 45 min": held(45.0),
    "1.3 times the first week's longest": longest(1.3),
    "1.6 times the first week's longest": longest(1.6),
    "EWMA, weight 0.05, 6 sigma": ewma(0.05, 6.0),
    "EWMA, weight 0.02, 8 sigma": ewma(0.02, 8.0),
    "CUSUM, k 1, h 20": cusum(1.0, 20.0),
    "CUSUM, k 1, h 60": cusum(1.0, 60.0),
}


def row(name: str, found: Detector, played: list[Month]) -> str:
    """Return one detector's line of the table."""
    told = [found(each) for each in played]
    days = sum(each.sound_days for each in played)
    woken = sum(map(needless, played, told)) * _MONTH_DAYS / days
    left = np.array([
        share_left(month, each)
        for month, each in zip(played, told, strict=True)
        if month.died_ms is not None
    ])  # fmt: skip
    caught = f"{int(np.isfinite(left).sum())} of {left.size}"
    worst, middle = (float(each) for each in np.quantile(np.maximum(left, -1.0), [0.1, 0.5]))
    return f"| {name} | {caught} | {woken:.2f} | {middle:.2f} | {worst:.2f} |"


def _table(title: str, played: list[Month]) -> str:
    lines = [
        f"| {title} | caught | needless a month | share left, median | share left, worst tenth |",
        "|---|---|---|---|---|",
        *(row(name, found, played) for name, found in _DETECTORS.items()),
    ]
    return "\n".join(lines) + "\n\n"


def main() -> int:
    """Play the coolers and print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=1, help="how many sets of coolers")
    parser.add_argument("--sound", type=int, default=48)
    parser.add_argument("--dying", type=int, default=95)
    asked = parser.parse_args()
    seeds = range(_FIRST_SEED, _FIRST_SEED + asked.seeds)
    for title, made in {"the simulator's coolers": months, "unlike coolers": other_months}.items():
        played = [each for seed in seeds for each in made(asked.sound, asked.dying, seed)]
        sys.stdout.write(_table(title, played))
    return 0


if __name__ == "__main__":
    sys.exit(main())
