"""Sensor trust on measured series: what is refused, what is kept, readings counted one by one.

Two plastic tunnels with broken probes (four-channel loggers, every quarter hour; the fault
windows come with the data, by a rule of their own), an airport's sentinels, a labelled humid
event. The aim, under 0.1 % of good readings refused, is the design's; nothing near a fault
window is left out of the measure. A plain range check is the reference in the same run.
"""

import json
import logging
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any, Final

import numpy as np
import pytest

from monitor.farm import Place
from monitor.intake import Screen
from monitor.model import Channel, Flag, PlaceKind, Quantity, Side
from monitor.watch import Samples, WatchState, begin, plan, step
from monitor.watch.doubting import LOOK_MS, believed
from monitor.watch.events import Times, Values
from monitor.watch.mistrust import next_look, told_doubts
from monitor.watch.trust import incredible
from tests.outside.checking import column, rows
from tests.shared_files import shared
from tests.watch.made import farm, sensor

log = logging.getLogger(__name__)

Series = dict[str, tuple[Times, Values]]

_AIR: Final = Quantity.TEMPERATURE
_LOGGERS: Final = ((1, 1), (1, 2), (2, 1), (2, 2))  # tunnel, logger
_AIM: Final = 0.001
_LOW_C, _HIGH_C = -35.0, 60.0

pytestmark = pytest.mark.outside
shared("data/tunnel_fault_windows.json")


def _ms(text: str) -> int:
    return int(datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp() * 1000)


def _tunnel(number: int) -> Series:
    """Return every channel of a tunnel's loggers, by the name that its windows have."""
    found: Series = {}
    for tunnel, logger in _LOGGERS:
        if tunnel != number:
            continue
        file = f"data/tunnel_g{tunnel}_temp_4ch_{logger}.csv.gz"
        table = [row for row in rows(file) if row["local_time"]]
        at_ms, first = np.unique([_ms(row["local_time"]) for row in table], return_index=True)
        for channel in range(1, 5):
            name = f"Greenhouse_{tunnel}/Temp_4ch_{logger}/Temperature {channel}"
            found[name] = at_ms, column(table, f"T{channel}_C")[first]
    return found


def _faulty(name: str, at_ms: Times) -> list[Any]:
    """Return which readings each fault window of a channel covers."""
    windows = json.loads(shared("data/tunnel_fault_windows.json").read_text())["windows"]
    return [(at_ms >= _ms(first)) & (at_ms <= _ms(last)) for first, last, _ in windows[name]]


def _refused(series: Series, kind: PlaceKind = PlaceKind.TUNNEL) -> dict[str, Any]:
    """Return which readings judge neither side as they come, by the watch itself."""
    place = Place("place", "Place", kind)
    names = {name: Channel(f"s{number}", _AIR) for number, name in enumerate(series)}
    sensors = [sensor(each.sensor, (_AIR,), place="place") for each in names.values()]
    first_ms = min(int(at_ms[0]) for at_ms, _ in series.values())
    last_ms = max(int(at_ms[-1]) for at_ms, _ in series.values())
    state = begin(plan(farm([place], sensors), []), first_ms - 1)
    found = {name: np.zeros(len(at_ms), dtype=bool) for name, (at_ms, _) in series.items()}
    taken = dict.fromkeys(series, 0)
    due_ms = first_ms
    while due_ms <= last_ms + LOOK_MS:
        for name, (at_ms, value) in series.items():
            here = slice(taken[name], int(np.searchsorted(at_ms, due_ms, side="right")))
            taken[name] = here.stop
            state = _took(state, names[name], at_ms[here], value[here], found[name][here])
        state, _ = told_doubts(replace(state, now_ms=due_ms))
        due_ms = max(next_look(state) or due_ms + LOOK_MS, due_ms + 1)
    return found


def _took(
    state: WatchState, channel: Channel, at_ms: Times, value: Values, refused: Any,  # noqa: ANN401
) -> WatchState:  # fmt: skip
    """Return the state after readings, and mark those that are not believed."""
    odd = channel in state.doubts or any(incredible(_AIR, each) for each in value.tolist())
    size = 1 if odd else max(len(value), 1)
    for first in range(0, len(value), size):
        part = slice(first, first + size)
        flags = np.zeros(len(value[part]), dtype=np.int64)
        last_ms = int(at_ms[part][-1])
        state = step(state, Samples(channel, at_ms[part], value[part], flags, last_ms)).state
        refused[part] = odd and not any(believed(state, channel, side) for side in Side)
    return state


def test_under_a_thousandth_of_good_tunnel_readings_is_refused() -> None:
    """By the design's aim; and more of the broken ones than a plain range check finds."""
    good = wrongly = broken = ours = plain = touched = plainly = 0
    for tunnel in (1, 2):
        series = _tunnel(tunnel)
        for name, refused in _refused(series).items():
            at_ms, value = series[name]
            windows = _faulty(name, at_ms)
            bad = np.any([np.zeros(len(at_ms), dtype=bool), *windows], axis=0)
            out = (value < _LOW_C) | (value > _HIGH_C)
            good += int(np.count_nonzero(~bad))
            wrongly += int(np.count_nonzero(refused & ~bad))
            broken += int(np.count_nonzero(bad))
            ours += int(np.count_nonzero(refused & bad))
            plain += int(np.count_nonzero(out & bad))
            touched += sum(bool((refused & each).any()) for each in windows)
            plainly += sum(bool((out & each).any()) for each in windows)
    log.info("good refused %d of %d", wrongly, good)
    log.info("broken refused %d, by a plain range %d, of %d", ours, plain, broken)
    log.info("fault windows touched %d, by a plain range %d", touched, plainly)
    assert wrongly < _AIM * good
    assert ours > plain
    assert touched > plainly


def test_every_sentinel_of_an_airport_is_refused() -> None:
    """-9999 is no cold, 103 times; what is refused beside them is said, and has no aim."""
    table = rows("data/airport_20min_with_sentinels.csv.gz")
    stamps = np.array([_ms(row["timestamp"]) for row in table])
    at_ms, first = np.unique(stamps, return_index=True)
    value = column(table, "TemperatureC")[first]
    known = np.isfinite(value)
    at_ms, value = at_ms[known], value[known]
    sentinels = value == -9999.0
    refused = _refused({"airport": (at_ms, value)}, PlaceKind.FIELD)["airport"]
    assert np.count_nonzero(sentinels) == 103  # as the handbook of the data counts
    assert refused[sentinels].all()
    others = int(np.count_nonzero(refused & ~sentinels))
    log.info("beside the sentinels refused %d of %d", others, len(value) - 103)


def test_a_labelled_humid_event_is_not_screened_away() -> None:
    """Steam from a kettle, each reading of it, is believed as it comes (every five seconds)."""
    table = rows("data/wsn_kettle_labelled.csv.gz")
    label = column(table, "label")
    assert label.any()
    screen, flags = Screen(), []
    for number, row in enumerate(table):
        channel = Channel(row["mote_id"], Quantity.HUMIDITY)
        flags.append(screen.judge(channel, "%", number * 5_000, float(row["humidity"])))
    assert not any(flag & Flag.SUSPECT for flag, event in zip(flags, label, strict=True) if event)
