"""When most of a batch will have roots, and when they get too long; which looks are due.

The forecast is a range that holds the day four times out of five: see `rooting` for the
model. The coming days are taken to be as warm as the last three, give or take a tenth.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np

from monitor.batches.book import Observation
from monitor.batches.rooting import Sighting, believe
from monitor.batches.thermal_clock import DAY_MS, ThermalClock
from monitor.farm import RootRule
from monitor.science.checking import Floats

ROOTING_STAGE: Final = "pre_sprout"
HOLDS: Final = 0.8
_EDGES: Final = ((1.0 - HOLDS) / 2.0, 0.5, (1.0 + HOLDS) / 2.0)
_RATE_SD: Final = 0.1
_UNKNOWN_SD: Final = 0.3  # of the thermal time of hours that are not known
_NODES: Final = np.linspace(-2.4, 2.4, 13)
_NODE_WEIGHTS: Final = np.exp(-0.5 * _NODES**2) / np.exp(-0.5 * _NODES**2).sum()
FIRST_LOOK_D: Final = 6
LOOK_EVERY_D: Final = 3


class Days(NamedTuple):
    """A moment as a range that holds it four times out of five, with its middle. [ms]"""

    early_ms: int
    middle_ms: int
    late_ms: int


@dataclass(frozen=True, slots=True)
class Forecast:
    """When most of the batch is ready, and when most of it has roots too long.

    ``chance_ready`` and ``chance_too_long`` are for now, ``expected_share`` is the share
    at the farm's length now. ``samples`` and ``learned_from`` say what it rests on.
    """

    ready: Days
    too_long: Days
    chance_ready: float
    chance_too_long: float
    expected_share: float
    degree_days: float
    rate: float
    coverage: float
    samples: int
    learned_from: int


def sightings(observations: Sequence[Observation], clock: ThermalClock) -> list[Sighting]:
    """Return the samples of roots among what was seen, by thermal time."""
    since_ms, until_ms = clock.at_ms[0], clock.at_ms[-1]
    return [
        Sighting(float(clock.passed(float(seen.at_ms))), seen.roots)
        for seen in observations
        if seen.roots is not None and since_ms <= seen.at_ms <= until_ms
    ]


def forecast(
    clock: ThermalClock,
    seen: Sequence[Sighting],
    earlier: Sequence[Sequence[Sighting]],
    rule: RootRule,
) -> Forecast:
    """Return when a batch's roots will be ready, and too long.

    Parameters
    ----------
    clock : ThermalClock
        The thermal time of its stage up to now.
    seen : sequence of Sighting
        Its own samples of roots.
    earlier : sequence of sequence of Sighting
        Those of the farm's earlier batches of the crop, a sequence each.
    rule : RootRule
        What the farm calls ready and too long.
    """
    belief = believe(seen, earlier, rule)
    ready_cd, ready_weight = belief.reached_cd(rule.length_mm)
    long_cd, long_weight = belief.reached_cd(rule.too_long_mm)
    return Forecast(
        ready=_days(clock, ready_cd, ready_weight),
        too_long=_days(clock, long_cd, long_weight),
        chance_ready=float(ready_weight[ready_cd <= clock.now].sum()),
        chance_too_long=float(long_weight[long_cd <= clock.now].sum()),
        expected_share=belief.share_at(clock.now, rule.length_mm),
        degree_days=clock.now,
        rate=clock.rate,
        coverage=clock.coverage,
        samples=len(seen),
        learned_from=belief.learned_from,
    )


def _days(clock: ThermalClock, degree_days: Floats, weight: Floats) -> Days:
    """Return when a thermal time is reached, over what is held likely of it and the air."""
    keep = weight > 1e-7 * weight.max()
    both = np.outer(weight[keep], _NODE_WEIGHTS).ravel()
    unknown = np.exp(-_UNKNOWN_SD * (1.0 - clock.coverage) * _NODES)
    wanted = np.outer(degree_days[keep], unknown).ravel()
    factor = np.tile(np.exp(_RATE_SD * _NODES), int(keep.sum()))
    reached = clock.reached_ms(wanted, factor)
    order = np.argsort(reached)
    total = np.cumsum(both[order]) / both.sum()
    early, middle, late = (_quantile(reached[order], total, share) for share in _EDGES)
    return Days(early, middle, late)


def _quantile(value: Floats, total: Floats, share: float) -> int:
    return round(float(np.interp(share, total, value)))


class Looks(NamedTuple):
    """When the batch was last looked at, and when the next look is due. [ms]"""

    last_ms: int | None
    due_ms: int


def looks(observations: Sequence[Observation], since_ms: int) -> Looks:
    """Return when a look for mould and moisture is due: from day six, every three days.

    Parameters
    ----------
    observations : sequence of Observation
        Of the batch; one that says anything of its health is a look.
    since_ms : int
        When the stage began. [ms]
    """
    seen = [each.at_ms for each in observations if each.at_ms >= since_ms and is_look(each)]
    first_ms = since_ms + FIRST_LOOK_D * DAY_MS
    if not seen:
        return Looks(None, first_ms)
    return Looks(max(seen), max(first_ms, max(seen) + LOOK_EVERY_D * DAY_MS))


def is_look(seen: Observation) -> bool:
    """Return whether an observation says how the batch is, not only how many there are."""
    said = (seen.roots, seen.mould, seen.softness, seen.moisture, seen.culls)
    return seen.all_fine or any(each is not None for each in said)
