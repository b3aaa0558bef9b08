"""What drifted past its ideal limits in a period: told in the morning, wakes nobody."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from monitor.model import Channel, Quantity, Side
from monitor.science.exposure import Excursions, clip, excursions
from monitor.science.exposure import Samples as Series
from monitor.watch.events import Samples
from monitor.watch.plan import ChannelPlan, Line, WatchPlan
from monitor.watch.taking import trusted_in_order

TELL_S: Final = 1800.0


@dataclass(frozen=True, slots=True)
class Drift:
    """Time outside one ideal limit in a period; ``peak`` and ``limit`` in [°C] or [%]."""

    place: str
    quantity: Quantity
    side: Side
    limit: float
    outside_s: float
    longest_s: float
    peak: float


def drifts(
    plan: WatchPlan, packs: Mapping[Channel, Samples], since_ms: int, until_ms: int
) -> tuple[Drift, ...]:
    """Return what drifted for half an hour or more, the longest first.

    Parameters
    ----------
    plan : WatchPlan
        The limits in force.
    packs : Mapping[Channel, Samples]
        Calibrated readings of the period, from a little before it on.
    since_ms, until_ms : int
        The period. [ms]
    """
    worst: dict[tuple[str, Quantity, Side], Drift] = {}
    for channel, pack in packs.items():
        if channel not in plan.channels:
            continue
        for drift in _of_channel(plan.channels[channel], pack, since_ms, until_ms):
            key = (drift.place, drift.quantity, drift.side)
            if drift.outside_s > (worst[key].outside_s if key in worst else 0.0):
                worst[key] = drift
    told = [each for each in worst.values() if each.outside_s >= TELL_S]
    return tuple(sorted(told, key=lambda each: -each.outside_s))


def _of_channel(plan: ChannelPlan, pack: Samples, since_ms: int, until_ms: int) -> Iterable[Drift]:
    ideal = [line for line in plan.lines if line.kind is None]
    at_ms, value = trusted_in_order(pack)
    if not ideal or not at_ms.size:
        return
    period = clip(Series(at_ms, value, plan.gap_ms / 1000.0), since_ms, until_ms)
    for line in ideal:
        runs = excursions(period, line.side, line.limit, limit_is_out=False)
        if len(runs):
            yield _drift(plan, line, runs)


def _drift(plan: ChannelPlan, line: Line, runs: Excursions) -> Drift:
    furthest = runs.peak.max() if line.side is Side.HIGH else runs.peak.min()
    return Drift(
        place=plan.place,
        quantity=plan.channel.quantity,
        side=line.side,
        limit=line.limit,
        outside_s=float(np.sum(runs.duration_s)),
        longest_s=runs.longest_s,
        peak=float(furthest),
    )
