"""A new plan under a running watch: what is known goes on where it still means the same.

A change of limits clears nothing by itself: an alarm that lasts goes on under the new
limit of its kind, and returns when readings say so.
"""

from dataclasses import replace

from monitor.watch.nearing import Course
from monitor.watch.plan import ChannelPlan, Line, WatchPlan
from monitor.watch.state import Run, Standing, Track, WatchState
from monitor.watch.taking import new_track


def replan(state: WatchState, plan: WatchPlan, now_ms: int) -> WatchState:
    """Return the state under a new plan, with nothing told yet."""
    tracks = {
        channel: _carried(state.tracks[channel], state.plan.channels[channel], new)
        if channel in state.tracks
        else new_track(new)
        for channel, new in plan.channels.items()
    }
    heard = {sensor: each for sensor, each in state.heard.items() if sensor in plan.sensors}
    posted = {
        sensor: state.posted.get(sensor, 0)
        if sensor in state.plan.sensors and state.plan.sensors[sensor].place == each.place
        else now_ms
        for sensor, each in plan.sensors.items()
    }
    return replace(state, plan=plan, now_ms=now_ms, tracks=tracks, heard=heard, posted=posted)


def _carried(track: Track, old: ChannelPlan, new: ChannelPlan) -> Track:
    if old.place != new.place:  # what it measured elsewhere says nothing of where it is now
        return new_track(new)
    if old.aheads != new.aheads:
        ways = zip(old.aheads, track.courses, strict=True)
        by_kind = {ahead.line.kind: course for ahead, course in ways}
        courses = tuple(by_kind.get(each.line.kind, Course()) for each in new.aheads)
        track = replace(track, courses=courses)
    if old.lines == new.lines:
        return track
    known = {
        (line.key, line.since_ms): standing
        for line, standing in zip(old.lines, track.standings, strict=True)
    }
    kept = {(line.key, line.since_ms) for line in new.lines}
    orphans = [
        (line, standing)
        for line, standing in zip(old.lines, track.standings, strict=True)
        if (line.key, line.since_ms) not in kept and standing.spell is not None
    ]
    standings = tuple(
        known.get((line.key, line.since_ms)) or _adopted(fresh_standing(line, track), line, orphans)
        for line in new.lines
    )
    quiet = all(each.run is None and each.spell is None for each in standings)
    return replace(track, standings=standings, quiet=quiet and track.newest is not None)


def fresh_standing(line: Line, track: Track) -> Standing:
    """Return how the newest sample stands against a line that is new: its past is unknown."""
    newest = track.newest
    if newest is None or (line.since_ms is not None and newest.at_ms < line.since_ms):
        return Standing()
    height = line.sign * (newest.value - line.limit)
    if height > 0.0 or (height == 0.0 and line.kind is not None):
        return Standing(run=Run(newest.at_ms, 0, 0, newest.value))
    return Standing(inside_since_ms=newest.at_ms)


def _adopted(standing: Standing, line: Line, orphans: list[tuple[Line, Standing]]) -> Standing:
    """Return a new line's standing with the spell of a line of its kind that went away."""
    for gone, left in orphans:
        if gone.kind is line.kind and left.spell is not None:
            return replace(standing, spell=replace(left.spell, hold_ms=None))
    return standing
