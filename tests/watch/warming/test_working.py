"""A cooler that works harder, found by the two rates of its own cycle."""

import re

import numpy as np
import pytest

from monitor.alarms import say, wording
from monitor.model import AlarmKind, Edge, Priority, Transition
from monitor.watch import begin, plan, step
from monitor.watch.events import Samples, Times, Values
from monitor.watch.warming.working import Worked, harder_after, worked
from tests.watch.made import NORTH, START_MS, farm

DAY_MS = 86_400_000
MIDNIGHT_MS = START_MS // DAY_MS * DAY_MS
GAIN_K_H, TAKEN_K_H = 4.0, 16.0  # G / C and Q / C of the air


def saw(  # noqa: PLR0917  # a figure each
    days: float = 1.0, gain: float = GAIN_K_H, taken: float = TAKEN_K_H, low_c: float = 1.5,
    every_s: float = 20.0, start_ms: int = MIDNIGHT_MS,
) -> tuple[Times, Values]:  # fmt: skip
    """Return the air of a thermostat with a swing of 1.5 K: it climbs by G / C, falls by (Q-G) / C.

    Energy balance of the air (any text on control; from memory): straight lines, for a cycle
    is far shorter than the room's time constant.
    """
    rise_h, fall_h = 1.5 / gain, 1.5 / (taken - gain)
    at_ms = start_ms + np.arange(0, round(days * DAY_MS), round(every_s * 1000), dtype=np.int64)
    into_h = ((at_ms - start_ms) / 3_600_000.0) % (rise_h + fall_h)
    falling = low_c + 1.5 - (taken - gain) * (into_h - rise_h)
    return at_ms, np.where(into_h < rise_h, low_c + gain * into_h, falling)


def test_the_two_rates_add_up_to_the_machine() -> None:
    """Climb and fall add up to Q / C, and the share of running is G / Q (energy balance)."""
    found = worked(*saw())
    assert found is not None
    assert found.strength_k_h == pytest.approx(TAKEN_K_H, rel=0.05)
    assert found.share == pytest.approx(GAIN_K_H / TAKEN_K_H, abs=0.03)


@pytest.mark.parametrize(("gain", "low_c"), [(6.0, 1.5), (4.0, 3.0), (3.0, 1.5)])
def test_a_hot_day_and_a_turned_dial_are_no_weakness(gain: float, low_c: float) -> None:
    """More heat coming in, or another level, leaves Q / C as it was (energy balance)."""
    found = worked(*saw(gain=gain, low_c=low_c))
    assert found is not None
    assert found.strength_k_h == pytest.approx(TAKEN_K_H, rel=0.05)


def test_what_cannot_be_read_says_nothing() -> None:
    """Whole degrees, readings each ten minutes, and few cycles a day leave it unknown."""
    at_ms, air_c = saw()
    assert worked(at_ms, np.round(air_c)) is None
    assert worked(*saw(every_s=600.0)) is None
    assert worked(*saw(days=0.2)) is None


def days(*strength: float | None) -> tuple[Worked | None, ...]:
    """Return days of one strength each. [K/h]"""
    return tuple(None if each is None else Worked(each, 0.3) for each in strength)


def test_one_weak_day_is_none_and_two_are() -> None:
    """It takes two days in a row beyond the loss, against six sound days at least."""
    sound = (20.0, 20.4, 19.8, 20.1, 19.9, 20.2)
    assert harder_after(None, days(*sound, 17.0), 0) is None
    assert harder_after(None, days(*sound, 20.0, 17.0), 0) is None
    found = harder_after(None, days(*sound, 17.0, 15.0), 7)
    assert found is not None
    assert found.since_ms == 7
    assert found.loss == pytest.approx(0.25, abs=0.01)
    assert harder_after(None, days(*sound[1:], 17.0, 15.0), 7) is None


def test_an_unknown_day_changes_nothing_and_two_good_ones_end_it() -> None:
    """What was told stays while nothing is known, and returns after two days of strength."""
    told = harder_after(None, days(*[20.0] * 6, 15.0, 15.0), 7)
    assert told is not None
    assert harder_after(told, days(15.0, None), 8) is told
    assert harder_after(told, days(15.0, 20.0), 8) is told
    assert harder_after(told, days(20.0, 20.0), 8) is None


def test_a_cooler_that_varies_of_itself_is_not_judged() -> None:
    """Where sound days differ by more than a share of their strength, nothing is said."""
    wild = (20.0, 30.0, 14.0, 26.0, 17.0, 33.0, 15.0)
    assert harder_after(None, days(*wild, 9.0, 9.0), 0) is None


def losing(days_sound: int, losses: list[float], every_s: float = 20.0) -> tuple[Times, Values]:
    """Return days of a sound machine, then one day for each share lost."""
    parts = [
        saw(
            taken=TAKEN_K_H * (1.0 - loss), start_ms=MIDNIGHT_MS + number * DAY_MS,
            every_s=every_s,
        )
        for number, loss in enumerate([0.0] * days_sound + losses)
    ]  # fmt: skip
    return np.concatenate([each[0] for each in parts]), np.concatenate([each[1] for each in parts])


@pytest.mark.parametrize("piece", [4320, 3000, 197])
def test_a_machine_that_weakens_is_told_low_and_ends(piece: int) -> None:
    """15 % and 30 % lost on two days is told after them, wakes nobody, and ends when mended."""
    here = farm()
    at_ms, air_c = losing(7, [0.15, 0.3, 0.3, 0.0, 0.0, 0.0])
    state = begin(plan(here, []), MIDNIGHT_MS)
    told: list[Transition] = []
    for first in range(0, at_ms.size, piece):
        cut = slice(first, first + piece)
        ones = np.ones(at_ms[cut].size, dtype=np.int64)
        pack = Samples(NORTH, at_ms[cut], air_c[cut], ones, int(at_ms[cut][-1]))
        stepped = step(state, pack)
        state = stepped.state
        told += stepped.transitions
    mine = [each for each in told if each.key.kind is AlarmKind.WORKING_HARDER]
    assert [each.edge for each in mine] == [Edge.RAISE, Edge.RETURN]
    raised = mine[0]
    assert raised.priority is Priority.LOW
    assert raised.began_ms == MIDNIGHT_MS + 9 * DAY_MS
    text = say(raised, wording(here), raised.at_ms).text
    assert text.startswith("Walk-in cooler works harder than it used to since")
    loss, now, before = (int(each) for each in re.findall(r"(\d+) %", text))
    assert loss == pytest.approx(30, abs=2)
    assert before == pytest.approx(25, abs=1)
    assert now == pytest.approx(25 / 0.7, abs=2)  # G / Q: a weaker machine runs the longer
    assert "licensed person" in text
    ended = say(mine[1], wording(here), mine[1].at_ms)
    assert ended.title == "Walk-in cooler works as it used to"
