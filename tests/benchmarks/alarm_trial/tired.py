"""Maintenance messages: ``python -m tests.benchmarks.alarm_trial.tired [--seed N]``.

Sound coolers over a month each, the simulator's and unlike ones: how often one is called
tired for nothing in a quarter, and how many have a cycle that can be judged at all. Then
coolers of the simulator whose machine loses 5, 10 or 15 % of its strength a day. Seeds 1
and 2 served for tuning; the table is of 101.
"""

import argparse
import sys
from collections.abc import Iterator
from typing import Final

import numpy as np

from monitor.watch.warming import advance, newborn
from simulator.alone import around_cooler, play_cooler
from simulator.cooler import random_size
from simulator.faults import Fault, FaultKind
from simulator.weather import Climate
from tests.benchmarks.alarm_trial.coolers import (
    _START_MS,
    _ZONE,
    DAYS,
    Month,
    _habits,
    _read,
    months,
)
from tests.benchmarks.alarm_trial.other_coolers import other_months

_DAY_MS: Final = 86_400_000
_SHARED: Final = 12
_MONTHS_A_QUARTER: Final = 3.0
_LEAST_JUDGED_DAYS: Final = 8
_LOSSES: Final = (0.05, 0.10, 0.15)


def told(month: Month) -> tuple[list[int], int]:
    """Return when a cooler is called tired [ms], and on how many days it could be judged."""
    warming, found = newborn(), []
    for first in range(0, month.at_ms.size, 1000):
        was = warming.harder
        cut = slice(first, first + 1000)
        warming = advance(warming, month.at_ms[cut], month.value[cut]).warming
        if warming.harder is not None and was is None:
            found.append(warming.harder.since_ms)
    return found, sum(each is not None for each in warming.worked)


def tired(count: int, loss: float, seed: int) -> Iterator[Month]:
    """Yield coolers that lose a share of their strength a day from the tenth to 18th on."""
    dice = np.random.default_rng([seed, 41, round(loss * 100)])
    around = None
    for number in range(count):
        if around is None or number % _SHARED == 0:
            start_ms = _START_MS + int(dice.uniform(0.0, 300.0)) * _DAY_MS
            climate = Climate(dice.uniform(30.0, 48.0), -73.3)
            around = around_cooler(climate, _ZONE, seed + number + 500, start_ms, days=DAYS)
        at_ms = int(around.at_ms[0]) + int(dice.uniform(10.0, 18.0) * _DAY_MS)
        fault = Fault(FaultKind.CAPACITY_LOST, at_ms, size=loss)
        truth = play_cooler(
            random_size(dice), _habits(dice), around, _ZONE, seed * 1000 + number, faults=(fault,)
        )
        nothing = np.empty(0, dtype=np.int64)
        yield Month(*_read(truth.at_ms, truth.air_c, dice), at_ms, None, nothing)


def _sound(name: str, played: list[Month]) -> str:
    found = [told(each) for each in played]
    number = sum(len(each) for each, _ in found)
    judged = sum(days > _LEAST_JUDGED_DAYS for _, days in found)
    rate = number * _MONTHS_A_QUARTER / len(found)
    return (
        f"{name}: {number} needless in {len(found)} months, {rate:.2f} a quarter; {judged} judged"
    )


def _losing(loss: float, played: list[Month]) -> str:
    waits = [
        min((each - (month.died_ms or 0) for each in told(month)[0]), default=None)
        for month in played
    ]
    days = [each / _DAY_MS for each in waits if each is not None]
    middle = f"{np.median(days):.1f} days" if days else "never"
    return f"{loss:.0%} lost a day: {len(days)} of {len(played)} told, after {middle} in the median"


def main() -> int:
    """Play the coolers and print what they were told of."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=101)
    parser.add_argument("--sound", type=int, default=48)
    parser.add_argument("--tired", type=int, default=12)
    asked = parser.parse_args()
    for name, made in {"the simulator's": months, "unlike": other_months}.items():
        sys.stdout.write(_sound(name, list(made(asked.sound, 0, asked.seed))) + "\n")
        sys.stdout.flush()
    for loss in _LOSSES:
        sys.stdout.write(_losing(loss, list(tired(asked.tired, loss, asked.seed))) + "\n")
        sys.stdout.flush()
    return 0


if __name__ == "__main__":
    sys.exit(main())
