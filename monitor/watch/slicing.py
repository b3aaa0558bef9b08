"""Stored series as packs in the order of time, so that places are judged as they were lived."""

from collections.abc import Iterator, Mapping

import numpy as np

from monitor.model import Channel
from monitor.watch.events import Samples


def slices(packs: Mapping[Channel, Samples], span_ms: int) -> Iterator[Samples]:
    """Yield the readings of several channels in slices of time, channel by channel in each.

    Each slice counts as received when its last sample was taken. Whoever wants silence
    judged as well puts a tick after the slices of each span.

    Parameters
    ----------
    packs : Mapping[Channel, Samples]
        Each in increasing time order.
    span_ms : int
        Length of a slice; ten minutes keep the order across sensors close. [ms]
    """
    filled = {channel: pack for channel, pack in packs.items() if pack.at_ms.size}
    if not filled:
        return
    first_ms = min(int(pack.at_ms[0]) for pack in filled.values())
    last_ms = max(int(pack.at_ms[-1]) for pack in filled.values())
    edges = np.arange(first_ms, last_ms + span_ms + 1, span_ms)
    cuts = {channel: np.searchsorted(pack.at_ms, edges) for channel, pack in filled.items()}
    for k in range(len(edges) - 1):
        for channel, pack in filled.items():
            since, until = int(cuts[channel][k]), int(cuts[channel][k + 1])
            if since < until:
                yield _cut(pack, since, until)


def _cut(pack: Samples, since: int, until: int) -> Samples:
    at_ms = pack.at_ms[since:until]
    return Samples(
        pack.channel, at_ms, pack.value[since:until], pack.flags[since:until], int(at_ms[-1])
    )
