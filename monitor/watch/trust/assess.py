"""All rules over the channels of one place."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Final

import numpy as np

from monitor.model import Channel, PlaceKind, Side
from monitor.watch.trust.apart import apart, far
from monitor.watch.trust.blocks import BLOCK_MS, Trust
from monitor.watch.trust.doubt import Doubt, Reason
from monitor.watch.trust.flat import LEAST, bears, flat, same
from monitor.watch.trust.grid import Bools, Grid, grid, others, run_lengths
from monitor.watch.trust.odd_one import middle, odd_one
from monitor.watch.trust.possible import impossible
from monitor.watch.trust.sunrise import mornings, sunrise

_HOUR: Final = 2  # believable for that many half hours: believed again
_LONG: Final = 12
_NONE: Final[frozenset[Side]] = frozenset()
_RULES: Final = (
    (Reason.IMPOSSIBLE, impossible),
    (Reason.FLAT, flat),
    (Reason.ODD_ONE, odd_one),
    (Reason.SUNRISE, sunrise),
)


def assess(
    kind: PlaceKind,
    pairs: Sequence[tuple[Channel, Trust]],
    before: Mapping[Channel, Reason | None] | None = None,
) -> dict[Channel, Doubt]:
    """Return the channels of one quantity in one place that are in doubt, by the gravest rule.

    Parameters
    ----------
    kind : PlaceKind
        The kind of place.
    pairs : sequence
        Its channels of one quantity, with their half hours.
    before : mapping, optional
        What was told and has not been taken back, by channel; None for an unknown reason.
        Two days forget how it was before: such a doubt stays until readings end it.
    """
    here = grid(kind, pairs)
    if here is None:
        return {}
    found = _by_rules(here)
    for row, channel in enumerate(here.channels):
        for doubt in _of_marks(here, row, pairs[row][1]):
            found.setdefault(channel, doubt)
    if len(pairs) > 1:
        _add_apart(here, found)
    for channel, was in (before or {}).items():
        if channel not in found and channel in here.channels:
            _keep(here, here.channels.index(channel), was, found)
    return found


def _by_rules(here: Grid) -> dict[Channel, Doubt]:
    found: dict[Channel, Doubt] = {}
    for reason, rule in _RULES:
        holds = rule(here)
        for row in np.flatnonzero(holds.any(axis=1)).tolist():
            if here.channels[row] not in found and _lately(here, row, reason, holds[row]):
                found[here.channels[row]] = _doubt(here, row, reason, holds[row])
    return found


def _lately(here: Grid, row: int, reason: Reason, holds: Bools) -> bool:
    """Return whether a rule holds or did in the last hour known; a flat line ends as it moves."""
    known = np.flatnonzero(here.known[row])
    return bool(holds[known[-1 if reason is Reason.FLAT else -_HOUR :]].any())


def _doubt(here: Grid, row: int, reason: Reason, holds: Bools) -> Doubt:
    last = int(np.flatnonzero(holds)[-1])
    begun = last - int(run_lengths(holds)[last]) + 1
    if reason is Reason.FLAT:
        return _flat(here, row, last)
    sides = frozenset({Side.HIGH}) if reason is Reason.SUNRISE else frozenset(Side)
    told = reason is not Reason.SUNRISE or mornings(holds) > 1
    return _made(here, row, reason, begun, last, sides=sides, told=told)


def _flat(here: Grid, row: int, last: int) -> Doubt:
    run = int(run_lengths(same(here)[row])[last])
    sides, told = bears(here, row, last, run)
    return _made(here, row, Reason.FLAT, last - run, last, sides=sides, told=told)


def _made(
    here: Grid, row: int, reason: Reason, begun: int, last: int,
    *, sides: frozenset[Side], told: bool = True,
) -> Doubt:  # fmt: skip
    near = others(here.mean[:, last : last + 1], row)
    beside = float(middle(near)[0]) if near.size else float("nan")
    return Doubt(
        reason=reason,
        since_ms=(here.first + begun) * BLOCK_MS,
        value=float(here.mean[row, last]),
        sides=sides,
        told=told,
        others=None if np.isnan(beside) else beside,
    )


def _of_marks(here: Grid, row: int, trust: Trust) -> Iterator[Doubt]:
    """Yield what the flags of every reading of six hours (clock) or one (unit) tell."""
    blocks = trust.closed
    last = blocks[-1].half - here.first if blocks else 0
    if len(blocks) >= _HOUR and all(each.unit == each.readings for each in blocks[-_HOUR:]):
        yield _made(here, row, Reason.UNIT, last - _HOUR + 1, last, sides=_NONE)
    if len(blocks) >= _LONG and all(each.refused == each.readings for each in blocks[-_LONG:]):
        yield _made(here, row, Reason.CLOCK, last - _LONG + 1, last, sides=_NONE)


def _add_apart(here: Grid, found: dict[Channel, Doubt]) -> None:
    last = here.mean.shape[1] - 1
    for row, other in apart(here).items():
        if not {here.channels[row], here.channels[other]} & found.keys():
            found[here.channels[row]] = _made(
                here, row, Reason.APART, last - _LONG + 1, last, sides=_NONE
            )


def _keep(here: Grid, row: int, reason: Reason | None, found: dict[Channel, Doubt]) -> None:
    """Keep a doubt that was told, where its half hours show that it still is as it was."""
    known = np.flatnonzero(here.known[row])
    if not known.size:
        return
    last = int(known[-1])
    run = int(run_lengths(same(here)[row])[last])
    if reason in {Reason.FLAT, None} and run >= LEAST:
        found[here.channels[row]] = _flat(here, row, last)
        return
    near = others(here.mean, row)
    if reason is Reason.APART and near.size:
        differ = np.abs(middle(near)[known[-_HOUR:]] - here.mean[row, known[-_HOUR:]])
        if (differ > far(here.quantity)).all():
            found[here.channels[row]] = _made(
                here, row, Reason.APART, last - _LONG + 1, last, sides=_NONE
            )
