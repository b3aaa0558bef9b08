"""Air that heads for a harm limit is told before it is there."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
import pytest

from monitor.alarms import say, wording
from monitor.farm import Farm, Place
from monitor.model import AlarmKey, AlarmKind, Edge, PlaceKind, Priority, Quantity, Transition
from monitor.science.sun import sun_times
from monitor.watch import Replanned, WatchState, begin, plan, settle
from monitor.watch.events import Samples, Values
from tests.watch.made import (
    HOUR_MS,
    MINUTE_MS,
    NORTH,
    START_MS,
    alarm_of,
    band,
    batch,
    farm,
    pack,
    run,
    sensor,
)

AIR: Final = Quantity.TEMPERATURE
SIX: Final = 10 * 60  # minutes after the start: two in the morning there
EVERY: Final = 2
LIMIT_C: Final = 26.0


def tunnel(*, standing: bool = True) -> tuple[Farm, WatchState]:
    """Return a farm with a tunnel, and its watch; plants may stand there 2 h over 26 °C."""
    place = Place("tunnel", "Tunnel 1", PlaceKind.TUNNEL, {AIR: band(-3.0, LIMIT_C, 7200.0, None)})
    here = farm([place], [sensor("north", (AIR,), "tunnel")])
    there = [batch(1, "bloom", "tunnel")] if standing else []
    return here, begin(plan(here, there), START_MS)


def course(points: Sequence[tuple[float, float]], every: int = EVERY) -> tuple[Values, Values]:
    """Return minutes and straight lines between points given in hours after six, with noise."""
    hours, values = np.array(points).T
    minutes = np.arange(hours[0] * 60, hours[-1] * 60 + 1, every)
    noise = 0.05 * (-1.0) ** np.arange(minutes.size)
    return SIX + 240 + minutes, np.interp(minutes / 60, hours, values) + noise


def packs(columns: tuple[Values, Values], size: int = 1) -> list[Samples]:
    """Return a course's readings, so many a pack."""
    minutes, values = columns
    return [
        pack(NORTH, minutes[first : first + size].tolist(), values[first : first + size].tolist())
        for first in range(0, minutes.size, size)
    ]


def raised(told: list[Transition]) -> list[Transition]:
    """Return what was raised."""
    return [each for each in told if each.edge is Edge.RAISE]


CLOSED: Final = ((0.0, 8.0), (1.0, 9.0), (4.0, 27.0), (6.0, 33.0), (9.0, 30.0), (12.0, 15.0))
"""A closed tunnel on a clear day, 6 K an hour from seven on: past 26 °C at 9:50."""


@pytest.mark.parametrize("size", [1, 7])
def test_a_closed_tunnel_is_told_within_the_hour_before_and_once(size: int) -> None:
    """It is raised while the air is within the limit, lasts over it, and returns once."""
    _, state = tunnel()
    _, told = run(state, packs(course(CLOSED), size))
    assert [each.edge for each in told] == [Edge.RAISE, Edge.RETURN]
    crossing_ms = START_MS + round((SIX + 240 + 60 * (1 + 17 / 6)) * MINUTE_MS)
    first = told[0]
    assert first.priority is Priority.HIGH
    assert first.facts["nearing"]
    if size == 1:
        assert crossing_ms - HOUR_MS - EVERY * MINUTE_MS <= first.at_ms < crossing_ms
        assert first.value is not None
        assert first.value < LIMIT_C
        assert first.facts["past_from_ms"] < crossing_ms < first.facts["past_until_ms"]
    assert told[1].peak == pytest.approx(33.0, abs=0.1)
    assert "kept_in" not in told[1].facts


def test_the_state_does_not_depend_on_the_packs() -> None:
    """One by one, seven at a time or at once: the same course stands at the end."""
    ends = []
    for size in (1, 7, 1000):
        _, state = tunnel()
        ends.append(run(state, packs(course(CLOSED), size))[0].tracks[NORTH].courses)
    assert ends[0] == ends[1] == ends[2]


def test_it_says_when_and_what_to_do() -> None:
    """The message names the limit, the hours between, that it is a guess, and the vents."""
    here, state = tunnel()
    _, told = run(state, packs(course(CLOSED)))
    said = say(told[0], wording(here), told[0].at_ms)
    assert said.title == "Tunnel 1 heads for 78.8 °F"
    for part in ("and rising", "Past 78.8 °F between", "by the last hour alone", "open the sides"):
        assert part in said.text


@pytest.mark.parametrize(
    "points",
    [
        ((0.0, 8.0), (9.0, 21.0), (12.0, 10.0)),  # slow: over an hour off until noon
        ((0.0, 8.0), (6.0, 12.0), (9.2, 25.5), (12.0, 10.0)),  # fast, but after noon
        ((0.0, 18.0), (3.0, 18.0), (3.05, 24.0), (3.3, 18.0), (12.0, 15.0)),  # sun on a probe
    ],
)
def test_what_will_not_harm_is_not_told(points: Sequence[tuple[float, float]]) -> None:
    """A slow climb, one that the sinking sun will end, and a leap are left alone."""
    _, state = tunnel()
    assert raised(run(state, packs(course(points)))[1]) == []


def test_noon_is_the_suns() -> None:
    """The plan's noon is the sun's there within its equation of time, 17 minutes (NOAA)."""
    here, state = tunnel()
    ahead = state.plan.channels[NORTH].aheads[0]
    day = sun_times(np.datetime64("2026-03-09").astype(object), here.latitude, here.longitude)
    assert day.rise_ms is not None
    assert day.set_ms is not None
    noon_ms = (day.rise_ms + day.set_ms) // 2 % (24 * HOUR_MS)
    assert abs(noon_ms - (ahead.noon_ms or 0)) < 17 * MINUTE_MS
    assert ahead.before_ms == HOUR_MS


def test_an_empty_tunnel_may_warm() -> None:
    """Where nothing stands the limit is judged, and nothing is told ahead."""
    _, state = tunnel(standing=False)
    told = raised(run(state, packs(course(CLOSED)))[1])
    assert [bool(each.facts.get("nearing")) for each in told] == [False]


def test_vents_opened_in_time_end_it_in_plain_words() -> None:
    """Air that turns back two kelvin below its peak, never over, stayed in band."""
    here, state = tunnel()
    points = ((0.0, 8.0), (1.0, 9.0), (3.6, 24.6), (4.6, 17.0), (6.0, 17.0))
    _, told = run(state, packs(course(points)))
    assert [each.edge for each in told] == [Edge.RAISE, Edge.RETURN]
    said = say(told[1], wording(here), told[1].at_ms)
    assert said.title == "Tunnel 1 stayed in band"
    assert "Air highest 76" in said.text
    assert "turned back" in said.text


def test_a_restart_goes_on_with_it() -> None:
    """Begun again from the open alarm, past the hour it was told by, it stands and ends alike."""
    here, state = tunnel()
    whole = packs(course(CLOSED))
    cut = 240  # at two, four hours after it was told
    before, told = run(state, whole[:cut])
    rows = [alarm_of(told[0])]
    again = begin(plan(here, [batch(1, "bloom", "tunnel")]), before.now_ms, open_alarms=rows)
    silent, _ = run(again, whole[cut - 60 : cut])
    settled = settle(silent, rows, before.now_ms)
    assert settled.transitions == ()
    assert settled.state.tracks[NORTH].courses == before.tracks[NORTH].courses
    _, after = run(settled.state, whole[cut:])
    assert [each.edge for each in after] == [Edge.RETURN]


def test_it_ends_with_what_stood_there() -> None:
    """When the batch leaves, nothing is told ahead any more, and the alarm says so."""
    here, state = tunnel()
    during, told = run(state, packs(course(CLOSED))[:115])
    assert len(raised(told)) == 1
    _, ended = run(during, [Replanned(plan(here, []), during.now_ms)])
    assert [(each.edge, each.facts.get("gone")) for each in ended] == [(Edge.RETURN, True)]


def room() -> WatchState:
    """Return the watch of a sprouting room whose corms bear 2 h at 1.7 °C (35 °F) or less."""
    place = Place(
        "room", "Sprouting room", PlaceKind.SPROUTING_ROOM, {AIR: band(1.7, 18.0, 7200.0, None)}
    )
    here = farm([place], [sensor("north", (AIR,), "room")])
    here = replace(here, places={"room": place})
    return begin(plan(here, [batch(1, "pre_sprout", "room")]), START_MS)


def test_a_dead_heater_is_told_before_the_room_is_cold() -> None:
    """A fall of 0.8 K an hour towards the limit is told at least an hour before it."""
    _, told = run(room(), packs(course(((0.0, 8.0), (1.0, 8.0), (10.0, 0.8)))))
    first = raised(told)[0]
    assert first.key == AlarmKey(AlarmKind.TOO_COLD, "room")
    crossing_ms = START_MS + round((SIX + 240 + 60 * (1 + 6.3 / 0.8)) * MINUTE_MS)
    assert crossing_ms - 2.2 * HOUR_MS < first.at_ms < crossing_ms - HOUR_MS


def test_a_door_in_winter_is_no_dead_heater() -> None:
    """Ten minutes at 2.5 °C, and a heater's slow swings near 4 °C, are not told."""
    door = ((0.0, 6.0), (3.0, 6.0), (3.05, 2.5), (3.2, 2.5), (3.5, 6.0), (8.0, 6.0))
    assert raised(run(room(), packs(course(door, 2)))[1]) == []
    swings = tuple((0.5 * k, 4.2 + 0.3 * (-1) ** k) for k in range(20))
    assert raised(run(room(), packs(course(swings, 2)))[1]) == []


def test_a_frost_is_told_in_the_night_it_comes() -> None:
    """Air that falls 1.5 K an hour is told within the half hour before -3 °C, and wakes."""
    _, state = tunnel()
    night = course(((0.0, 4.0), (4.0, -2.0), (5.0, -3.5), (8.0, -5.0)))
    first = raised(run(state, packs(night))[1])[0]
    crossing_ms = START_MS + round((SIX + 240 + 60 * (4 + 2 / 3)) * MINUTE_MS)
    assert (first.key.kind, first.priority) == (AlarmKind.TOO_COLD, Priority.HIGH)
    assert crossing_ms - 35 * MINUTE_MS <= first.at_ms < crossing_ms - 15 * MINUTE_MS


def test_what_is_told_goes_on_where_another_batch_comes() -> None:
    """A new plan with the same limit keeps the course, and one that was empty begins it."""
    here, state = tunnel()
    during, told = run(state, packs(course(CLOSED))[:115])
    assert len(raised(told)) == 1
    two = [batch(1, "bloom", "tunnel"), batch(2, "bloom", "tunnel")]
    after, more = run(during, [Replanned(plan(here, two), during.now_ms)])
    assert more == []
    assert after.tracks[NORTH].courses == during.tracks[NORTH].courses
    here, empty = tunnel(standing=False)
    filled, _ = run(empty, [Replanned(plan(here, two), START_MS)])
    assert len(filled.tracks[NORTH].courses) == 2
