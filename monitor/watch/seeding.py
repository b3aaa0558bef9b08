"""Beginning in the middle: after a restart, from the ledger, the summaries and the readings.

A restart replays the last hours of readings through ``step`` and throws the transitions
away; then ``settle`` tells what the ledger does not know yet. What began before those
hours comes in here: alarms that are open in the ledger, time outside before the replay,
and, where a run has no beginning in it, a longer stretch of readings (``unsettled``).
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from monitor.model import Alarm, AlarmKey, AlarmKind, AlarmState, Channel, Priority
from monitor.watch.doubting import doubted
from monitor.watch.hearing import healed as healed_by
from monitor.watch.loading import LOADING
from monitor.watch.nearing import Course, Toward
from monitor.watch.plan import Ahead, ChannelPlan, Line, LineKey, WatchPlan
from monitor.watch.state import Heard, Spell, Standing, Told, Track, WatchState
from monitor.watch.taking import new_track
from monitor.watch.telling import KINDS
from monitor.watch.trust import Trust
from monitor.watch.usual import WHY
from monitor.watch.warming import Warming

_GRADED = (AlarmKind.SENSOR_SILENT, AlarmKind.SENSORS_DARK)

OutsideBefore = Mapping[tuple[Channel, LineKey], int]


def begin(
    plan: WatchPlan,
    now_ms: int,
    *,
    heard: Mapping[str, int] | None = None,
    open_alarms: Sequence[Alarm] = (),
    healed: Iterable[Alarm] = (),
    outside_before: OutsideBefore | None = None,
    warming: Mapping[Channel, Warming] | None = None,
    trust: Mapping[Channel, Trust] | None = None,
    posted: Mapping[str, int] | None = None,
) -> WatchState:
    """Return the state before the first event.

    Parameters
    ----------
    plan : WatchPlan
        What is judged.
    now_ms : int
        The start of this program; silence counts from it at the earliest. [ms]
    heard : Mapping[str, int], optional
        When each sensor was last heard, as kept in the store. [ms]
    open_alarms : Sequence[Alarm]
        The alarms of the ledger that are not normal: each goes on until readings end it.
    healed : Iterable[Alarm], optional
        Silences of the last week that ended by themselves, the oldest first.
    outside_before : Mapping, optional
        Per channel and line that bounds a whole stay: the time outside from the stay's
        beginning to the first reading that will be replayed. [ms]
    warming : Mapping[Channel, Warming], optional
        What each cooler's air taught before the first reading that will be replayed.
    trust : Mapping[Channel, Trust], optional
        The half hours of each channel before the first reading that will be replayed.
    posted : Mapping[str, int], optional
        Since when each sensor hangs where it does. [ms]
    """
    before = outside_before or {}
    tracks = {
        channel: _seeded(each, open_alarms, before) for channel, each in plan.channels.items()
    }
    for channel, each in (warming or {}).items():
        if channel in tracks:
            tracks[channel] = replace(tracks[channel], warming=each)
    for channel, half_hours in (trust or {}).items():
        if channel in tracks:
            tracks[channel] = replace(tracks[channel], trust=half_hours)
    return WatchState(
        plan=plan,
        now_ms=now_ms,
        started_ms=now_ms,
        tracks=tracks,
        heard=_heard(plan, heard or {}, healed),
        told=told_of(open_alarms),
        posted=posted or {},
    )


def _heard(plan: WatchPlan, heard: Mapping[str, int], ended: Iterable[Alarm]) -> dict[str, Heard]:
    found = {s: Heard(at_ms, at_ms, 0) for s, at_ms in heard.items() if s in plan.sensors}
    for alarm in ended:
        sensor = found.get(alarm.key.subject)
        own = alarm.key.kind is AlarmKind.SENSOR_SILENT and not alarm.why
        if sensor is not None and own and alarm.returned_ms is not None:
            length_ms = alarm.returned_ms - alarm.began_ms
            found[alarm.key.subject] = healed_by(sensor, alarm.returned_ms, length_ms)
    return found


def told_of(alarms: Iterable[Alarm]) -> dict[AlarmKey, Told]:
    """Return what the ledger's open alarms have told and not yet taken back.

    One that is put aside counts as told while its condition holds beneath.
    """
    mine = (
        *KINDS, AlarmKind.SENSOR_SILENT, AlarmKind.STAGE_ENDING, AlarmKind.SENSORS_DARK,
        AlarmKind.MAINS_LOST, AlarmKind.SENSOR_DOUBTFUL, AlarmKind.BATTERY_LOW,
        AlarmKind.DOOR_OPEN, AlarmKind.WRONG_PLACE, AlarmKind.WORKING_HARDER,
    )  # fmt: skip
    return {
        alarm.key: _told(alarm)
        for alarm in alarms
        if alarm.active and alarm.returned_ms is None and alarm.key.kind in mine
    }


def _told(alarm: Alarm) -> Told:
    cause = alarm.facts.get("cause") if alarm.why else None
    return Told(
        alarm.began_ms,
        alarm.raised_ms,
        cause=AlarmKey(AlarmKind(cause[0]), str(cause[1])) if cause else None,
        members=tuple(alarm.facts.get("sensors", ())),
        high=_high(alarm),
        usual=alarm.state is AlarmState.SUPPRESSED and alarm.why in {WHY, LOADING},
        doubt=doubted(alarm.quantity, alarm.facts),
    )


def _high(alarm: Alarm) -> bool:
    if alarm.key.kind is AlarmKind.WRONG_PLACE:  # by the harm: at a start it may be told softly
        return bool(alarm.facts.get("harmful"))
    return alarm.priority is Priority.HIGH and alarm.key.kind in _GRADED


def unsettled(state: WatchState) -> dict[Channel, int]:
    """Return the channels whose run outside reaches back to their first sample, and that one.

    Their readings from before it would tell when the run began: read further back, and
    begin again from there.
    """
    return {
        channel: track.first_ms
        for channel, track in state.tracks.items()
        if track.first_ms is not None
        and any(
            each.run is not None and each.run.began_ms <= track.first_ms for each in track.standings
        )
    }


def stay_lines(plan: WatchPlan) -> list[tuple[Channel, Line]]:
    """Return the lines that bound a whole stay: those that ``outside_before`` may seed."""
    return [
        (channel, line)
        for channel, each in plan.channels.items()
        for line in each.lines
        if line.cumulative_ms is not None
    ]


def _seeded(plan: ChannelPlan, alarms: Sequence[Alarm], before: OutsideBefore) -> Track:
    standings = []
    for line in plan.lines:
        whole_ms = before.get((plan.channel, line.key), 0)
        times = whole_ms // line.cumulative_ms if line.cumulative_ms else 0
        spell = next((s for a in alarms if (s := _open_spell(a, plan, line))), None)
        standings.append(Standing(spell=spell, whole_ms=whole_ms, told_times=times))
    courses = tuple(
        next((c for a in alarms if (c := _open_course(a, plan, ahead))), Course())
        for ahead in plan.aheads
    )
    return replace(new_track(plan), standings=tuple(standings), courses=courses)


def _open_course(alarm: Alarm, plan: ChannelPlan, ahead: Ahead) -> Course | None:
    """Return the course that an open alarm was told ahead by."""
    same = (alarm.key.kind, alarm.key.subject, alarm.sensor, alarm.quantity) == (
        ahead.line.kind, plan.place, plan.channel.sensor, plan.channel.quantity,
    )  # fmt: skip
    told = alarm.active and alarm.returned_ms is None and alarm.facts.get("nearing")
    if not same or not told:
        return None
    peak = ahead.line.limit if alarm.peak is None else alarm.peak
    return Course(Toward(
        alarm.began_ms, alarm.raised_ms, peak, int(alarm.facts["past_from_ms"]),
        int(alarm.facts["past_until_ms"]), float(alarm.facts.get("trend_per_h") or 0.0),
    ))  # fmt: skip


def _told_ahead(alarm: Alarm) -> bool:
    return bool(alarm.facts.get("warming") or alarm.facts.get("nearing"))


def _open_spell(alarm: Alarm, plan: ChannelPlan, line: Line) -> Spell | None:
    """Return the spell that an open alarm left on a line of the channel it was raised by.

    Where its limit is no longer there, every line of its kind takes it up.
    """
    same = (alarm.key.kind, alarm.key.subject, alarm.sensor, alarm.quantity) == (
        line.kind, plan.place, plan.channel.sensor, plan.channel.quantity,
    )  # fmt: skip
    if not same or not alarm.active or alarm.returned_ms is not None or _told_ahead(alarm):
        return None
    limits = {each.limit for each in plan.lines if each.kind is line.kind}
    if alarm.limit in limits and alarm.limit != line.limit:
        return None
    peak = alarm.peak if alarm.peak is not None else line.limit
    return Spell(alarm.began_ms, alarm.raised_ms, 0, 0, peak)
