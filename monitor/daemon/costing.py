"""Reads the air that a return's cost is reckoned from: the stored readings of its sensor."""

import logging
from collections.abc import Callable, Mapping
from contextlib import closing
from dataclasses import dataclass

import numpy as np

from monitor.alarms import Wording, costed, costs
from monitor.batches.spent import LEAD_TAUS
from monitor.daemon.restoring import NOT_JUDGED, judged, specs
from monitor.errors import StoreError
from monitor.farm import Place
from monitor.model import Channel, Quantity, Transition
from monitor.science.series import Samples
from monitor.store import ReadingReader

log = logging.getLogger("cormwatch")


@dataclass(frozen=True)
class Costing:
    """Adds to the return of a cooler's alarm what the spell cost the stems there.

    It rests on what is stored, not on what this program has seen: a restart in the middle
    of a spell, and a spell of days, change nothing. ``posted`` tells since when each sensor hangs
    where it does. [ms] A store that cannot be read costs the
    figure, never the notice.
    """

    open_reader: Callable[[], ReadingReader]
    posted: Callable[[], Mapping[str, int]] = dict

    def __call__(self, transition: Transition, words: Wording) -> Transition:
        """Return a transition with its cost, where it has one."""
        place = costs(transition, words)
        if place is None:
            return transition
        try:
            with closing(self.open_reader()) as reader:
                air = self._air(reader, transition, words, place)
        except StoreError as failure:
            log.warning("what %s cost cannot be reckoned: %s", transition.key, failure)
            return transition
        return transition if air is None else costed(transition, words, air)

    def _air(
        self, reader: ReadingReader, transition: Transition, words: Wording, place: Place
    ) -> Samples | None:
        """Return the air of a return's own sensor from well before its spell. [°C]"""
        sensor = words.farm.sensors.get(transition.sensor or "")
        channel = Channel(transition.sensor or "", Quantity.TEMPERATURE)
        spec = specs(words.farm).get(channel)
        if sensor is None or spec is None:
            return None
        lead_ms = round((LEAD_TAUS * place.lag_s + sensor.allowed_gap_s) * 1000)
        from_ms = max(transition.began_ms - lead_ms, self.posted().get(sensor.id, 0))
        series = reader.series(channel, from_ms, transition.at_ms + 1)
        if not len(series.at_ms):
            return None
        pack = judged(channel, spec, series)
        sound = ((pack.flags & NOT_JUDGED) == 0) & np.isfinite(pack.value)
        at_ms, first = np.unique(pack.at_ms[sound], return_index=True)
        return Samples(at_ms, pack.value[sound][first], sensor.allowed_gap_s)
