"""What each cooler's air taught, read again from the store at a start."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

import numpy as np

from monitor.farm import ChannelSpec, calibrated
from monitor.model import Channel, Flag
from monitor.store import ReadingReader
from monitor.watch import WatchPlan
from monitor.watch.plan import ChannelPlan
from monitor.watch.warming import Harder, Warming, advance

_BACK_MS: Final = 30 * 86_400_000
_PAGE_MS: Final = 5 * 86_400_000
_UNTRUSTED: Final = int(Flag.SUSPECT | Flag.TIME_UNCERTAIN)


def learned(
    plan: WatchPlan,
    specs: Mapping[Channel, ChannelSpec],
    reader: ReadingReader,
    until_ms: Mapping[Channel, int],
    *,
    harder: Mapping[Channel, Harder] | None = None,
    posted: Mapping[str, int] | None = None,
) -> dict[Channel, Warming]:
    """Return the habits of every cooler's channels from the month before a time each.

    Parameters
    ----------
    plan : WatchPlan
        Which channels are judged by their habits.
    specs : Mapping[Channel, ChannelSpec]
        How each is read.
    reader : ReadingReader
        The stored readings.
    until_ms : Mapping[Channel, int]
        Before which reading to stop; a channel without is left out. [ms]
    harder : Mapping[Channel, Harder], optional
        What open alarms tell of; the weeks before that may not be read any more.
    posted : Mapping[str, int], optional
        Since when each sensor hangs there: what it told before taught nothing. [ms]
    """
    told, hung = harder or {}, posted or {}
    found = {}
    for channel, each in plan.channels.items():
        if each.early is not None and channel in until_ms:
            from_ms = max(until_ms[channel] - _BACK_MS, hung.get(channel.sensor, 0))
            span_ms = from_ms, until_ms[channel]
            found[channel] = _learned(each, specs[channel], reader, told.get(channel), span_ms)
    return found


def _learned(
    plan: ChannelPlan, spec: ChannelSpec, reader: ReadingReader, harder: Harder | None,
    span_ms: tuple[int, int],
) -> Warming:  # fmt: skip
    from_ms, until_ms = span_ms
    warming = Warming()
    if harder is not None:
        onset_ms = max(min(harder.since_ms, until_ms), from_ms)
        warming = replace(_taught(warming, plan, spec, reader, (from_ms, onset_ms)), harder=harder)
        from_ms = onset_ms
    return _taught(warming, plan, spec, reader, (from_ms, until_ms))


def _taught(
    warming: Warming, plan: ChannelPlan, spec: ChannelSpec, reader: ReadingReader,
    span_ms: tuple[int, int],
) -> Warming:  # fmt: skip
    for from_ms in range(*span_ms, _PAGE_MS):
        series = reader.series(plan.channel, from_ms, min(from_ms + _PAGE_MS, span_ms[1]))
        value = calibrated(spec, series.at_ms, series.raw)
        trusted = np.isfinite(value) & ((series.flags & _UNTRUSTED) == 0)
        if trusted.any():
            times, values = series.at_ms[trusted], value[trusted]
            warming = advance(warming, times, values, plan.loadings).warming
    return warming
