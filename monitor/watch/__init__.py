"""Judging places, sensors and batches as time passes: pure, one step at a time.

``step(state, event)`` is a function of readings, configuration and time alone, so that a
replayed state equals the uninterrupted one.
"""

from monitor.watch.compiling import plan, stage_since
from monitor.watch.dark import everything as dark_places
from monitor.watch.drifting import Drift, drifts
from monitor.watch.events import ClockStepped, Event, Hearing, Replanned, Samples, Tick
from monitor.watch.harder import told_before as harder_before
from monitor.watch.listing import places_json, sensors_json
from monitor.watch.minding import due_work, next_due
from monitor.watch.plan import JUDGED, Due, Line, LineKey, WatchPlan
from monitor.watch.seeding import begin, stay_lines, unsettled
from monitor.watch.silence import silence
from monitor.watch.slicing import slices
from monitor.watch.state import Excursion, WatchState
from monitor.watch.status import (
    BatchStatus,
    ChannelStatus,
    LineStatus,
    PlaceStatus,
    SensorStatus,
    batch_states,
    batch_status,
    channel_status,
    place_status,
    sensor_status,
)
from monitor.watch.stepping import Stepped, settle, step
from monitor.watch.taking import trust_in

__all__ = [
    "JUDGED", "BatchStatus", "ChannelStatus", "ClockStepped", "Drift", "Due", "Event",
    "Excursion", "Hearing", "Line", "LineKey", "LineStatus", "PlaceStatus", "Replanned", "Samples",
    "SensorStatus", "Stepped", "Tick", "WatchPlan", "WatchState", "batch_states",
    "batch_status", "begin", "channel_status", "dark_places", "drifts", "due_work",
    "harder_before", "next_due", "place_status", "places_json", "plan", "sensor_status",
    "sensors_json", "settle", "silence", "slices", "stage_since", "stay_lines",
    "step", "trust_in", "unsettled",
]  # fmt: skip
