"""When this computer's clock jumps: what was timed by it is moved along.

No sensor falls silent and no delay runs out because a clock was set; nothing is blind
until the clock has caught up with times it once gave.
"""

from dataclasses import replace
from typing import Final

import numpy as np

from monitor.model import Flag
from monitor.watch.events import Samples
from monitor.watch.state import (
    Heard,
    Newest,
    Run,
    Spell,
    Standing,
    Track,
    WatchState,
)
from monitor.watch.trust import moved as trust_moved

_AHEAD_MS: Final = 60_000
_STEP_MS: Final = 5_000
_UNSURE: Final = int(Flag.CLOCK_UNSURE)


def stepped(state: WatchState, now_ms: int, by_ms: int) -> WatchState:
    """Return the state after the clock jumped by a span, forward or back.

    Samples that bear the sensor's own time stay where they are after a jump forward;
    after a jump back, whatever lies in the future is moved.
    """
    tracks, moved = dict(state.tracks), set()
    for channel, track in state.tracks.items():
        if _timed_here(track, now_ms, by_ms):
            tracks[channel] = shifted(track, by_ms)
            moved.add(state.plan.channels[channel].place)
        tracks[channel] = replace(tracks[channel], fresh_ms=track.fresh_ms + by_ms)
    heard = {sensor: _heard(each, by_ms) for sensor, each in state.heard.items()}
    told = {
        key: replace(each, began_ms=each.began_ms + by_ms, raised_ms=each.raised_ms + by_ms)
        if key.subject in moved or key.subject in heard
        else each
        for key, each in state.told.items()
    }
    return replace(
        state, now_ms=now_ms, started_ms=state.started_ms + by_ms, tracks=tracks, heard=heard,
        told=told, deaf_ms=_moved(state.deaf_ms, by_ms),
        posted={sensor: min(at_ms, now_ms) for sensor, at_ms in state.posted.items()},
    )  # fmt: skip


def _timed_here(track: Track, now_ms: int, by_ms: int) -> bool:
    if track.newest is None:
        return False
    if by_ms < 0:
        return track.newest.at_ms > now_ms + _AHEAD_MS
    return not track.device_time


def follow_receipt(track: Track, pack: Samples) -> Track:
    """Return a track that can go on with readings stamped by a clock that was set back.

    For a pack that comes before the jump was noticed elsewhere.
    """
    unsure = (np.asarray(pack.flags) & _UNSURE) != 0
    if track.newest is None or not unsure.any():
        return track
    first_ms = int(pack.at_ms[unsure].min())
    if first_ms > track.newest.at_ms - _STEP_MS:
        return track
    return shifted(track, first_ms - 1 - track.newest.at_ms)


def shifted(track: Track, by_ms: int) -> Track:
    """Return a track with every time of its samples moved."""
    newest, shown, first_ms = track.newest, track.shown, track.first_ms
    return replace(
        track,
        standings=tuple(_standing(each, by_ms) for each in track.standings),
        newest=None if newest is None else Newest(newest.at_ms + by_ms, newest.value),
        shown=None if shown is None else replace(shown, at_ms=shown.at_ms + by_ms),
        first_ms=None if first_ms is None else first_ms + by_ms,
        tail_ms=track.tail_ms + by_ms,
        warming=track.warming.moved(by_ms),
        courses=tuple(each.moved(by_ms) for each in track.courses),
        trust=trust_moved(track.trust, by_ms),
    )


def _standing(standing: Standing, by_ms: int) -> Standing:
    return replace(
        standing,
        inside_since_ms=_moved(standing.inside_since_ms, by_ms),
        run=_run(standing.run, by_ms),
        spell=_spell(standing.spell, by_ms),
        last=_spell(standing.last, by_ms),
    )


def _run(run: Run | None, by_ms: int) -> Run | None:
    return None if run is None else replace(run, began_ms=run.began_ms + by_ms)


def _spell(spell: Spell | None, by_ms: int) -> Spell | None:
    if spell is None:
        return None
    return replace(
        spell,
        began_ms=spell.began_ms + by_ms,
        raised_ms=spell.raised_ms + by_ms,
        back_ms=_moved(spell.back_ms, by_ms),
        hold_ms=_moved(spell.hold_ms, by_ms),
        ended_ms=_moved(spell.ended_ms, by_ms),
    )


def _heard(heard: Heard, by_ms: int) -> Heard:
    return replace(
        heard,
        live_ms=_moved(heard.live_ms, by_ms),
        received_ms=heard.received_ms + by_ms,
        afresh_ms=_moved(heard.afresh_ms, by_ms),
        healed=tuple((at_ms + by_ms, length_ms) for at_ms, length_ms in heard.healed),
    )


def _moved(at_ms: int | None, by_ms: int) -> int | None:
    return None if at_ms is None else at_ms + by_ms
