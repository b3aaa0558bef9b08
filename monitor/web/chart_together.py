"""Many sensors of a place in one chart: those in danger by themselves, the others as one."""

from collections.abc import Sequence
from typing import Final

import numpy as np

from monitor.farm import Place, Sensor
from monitor.model import Channel, Quantity
from monitor.phrase import Phrase
from monitor.web.look import Look, by_danger
from monitor.web.place_page import HOUR_MS, drawn, sensors_with
from monitor.web.trails import NOTHING, Trail

LINES_AT_MOST: Final = 4
"""Lines of one ink that can still be told apart."""
_POINTS_AT_LEAST: Final = 24


def parted(
    look: Look, place: Place, quantity: Quantity, most: int
) -> tuple[list[Sensor], list[Sensor]]:
    """Return the sensors that get a line each, and those that share one.

    As many as ``most`` each get their own, as the farm has them; of more, all but one line go
    to those in danger.
    """
    here = sensors_with(look, place, quantity)
    if len(here) <= most:
        return here, []
    ranked = [each.channel for each in by_danger(look.status(place.id).channels)]
    place_of = {channel: number for number, channel in enumerate(ranked)}
    here.sort(key=lambda each: place_of.get(Channel(each.id, quantity), len(ranked)))
    return here[: most - 1], here[most - 1 :]


def shared(
    look: Look, sensors: Sequence[Sensor], quantity: Quantity, span: tuple[int, int], points: int
) -> Trail:
    """Return many sensors' line: between which values all of them were, and their mean.

    A point is an hour, or what the chart's points ask for where they are further apart; no
    point is nearer to the next than the slowest sensor speaks.
    """
    length_ms = span[1] - span[0]
    points = min(points, max(_POINTS_AT_LEAST, length_ms // HOUR_MS))
    step_ms = max(length_ms // points, round(max(each.interval_s for each in sensors) * 1000))
    lines = [drawn(look, each, quantity, span, points) for each in sensors]
    at_ms = np.concatenate([each.at_ms for each in lines])
    if not at_ms.size:
        return NOTHING
    order = np.argsort(at_ms, kind="stable")
    cells = at_ms[order] // step_ms
    begins = np.flatnonzero(np.append(True, np.diff(cells) != 0))
    low, high, mean = (
        np.concatenate(each)[order]
        for each in zip(*((one.low, one.high, one.mean) for one in lines), strict=True)
    )
    return Trail(
        cells[begins] * step_ms,
        np.minimum.reduceat(low, begins),
        np.maximum.reduceat(high, begins),
        np.add.reduceat(mean, begins) / np.diff(np.append(begins, mean.size)),
        gap_ms=max(2.0 * step_ms, *(each.gap_ms for each in lines)),
        bucketed=True,
        dropped=sum(each.dropped for each in lines),
    )


def name_of(sensors: Sequence[Sensor]) -> str:
    """Return what a line that several share is called."""
    return Phrase("{number} others", number=len(sensors))
