"""Readings as line protocol; the client library names and escapes each series, once."""

from collections.abc import Iterator

import numpy as np
from influxdb_client import Point

from monitor.farm import Mirror
from monitor.mirror.naming import FIELDS, FLAGS, unwritable
from monitor.mirror.places import Places
from monitor.model import Channel, Quantity
from monitor.store import Series


class Lines:
    """Writes readings as lines: tags site, place and sensor, one field, a time in ms."""

    def __init__(self, mirror: Mirror) -> None:
        self._mirror = mirror
        self._heads: dict[tuple[str, str, Quantity], str] = {}

    def of(self, channel: Channel, series: Series, places: Places) -> list[str]:
        """Return a line for each reading, in their order.

        Where a tag cannot hold a name as it is, what stands in its line is no line: ask
        ``unwritable`` first.
        """
        found: list[str] = []
        for place, part in _by_place(channel.sensor, series, places):
            head = self._head(channel.sensor, place, channel.quantity)
            flags = FLAGS[channel.quantity]
            found += [
                f"{head}{value!r},{flags}={flag}i {at_ms}" if flag else f"{head}{value!r} {at_ms}"
                for at_ms, value, flag in zip(
                    part.at_ms.tolist(), part.raw.tolist(), part.flags.tolist(), strict=True
                )
            ]
        return found

    def why_not(self, channel: Channel) -> str:
        """Return why a channel cannot be written at all, or ``""``."""
        return unwritable(channel.sensor)

    def _head(self, sensor: str, place: str, quantity: Quantity) -> str:
        """Return what every line of a series begins with, up to the value."""
        key = (sensor, place, quantity)
        if key not in self._heads:
            mirror = self._mirror
            point = Point(mirror.measurement).tag("site", mirror.site)
            point.tag("place", place).tag("sensor", sensor).field(FIELDS[quantity], 0.0)
            self._heads[key] = point.to_line_protocol().removesuffix("0")
        return self._heads[key]


def _by_place(sensor: str, series: Series, places: Places) -> Iterator[tuple[str, Series]]:
    """Yield the parts of a series between two moves of its sensor."""
    moves = places.of(sensor)
    cuts = [0, *np.searchsorted(series.at_ms, moves.since_ms[1:]).tolist(), len(series.at_ms)]
    for name, begin, end in zip(moves.names, cuts, cuts[1:], strict=False):
        if begin < end:
            part = slice(begin, end)
            yield name, Series(series.at_ms[part], series.raw[part], series.flags[part])
