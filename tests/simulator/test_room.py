"""A room loses no heat, takes any step, and switches at the moment of crossing."""

from dataclasses import replace

import numpy as np
import pytest

from monitor.errors import OutOfRangeError
from simulator.coil import Coil
from simulator.cooler import CoolerSize, begun, cooler, random_size, time_constant_s
from simulator.dice import dice
from simulator.room import Room, Step, advance, stored_j
from simulator.sprouting_room import sprouting_room

RESTLESS = [
    Step(
        outside_c=18.0 + k % 7, outside_ratio=0.009, door=0.6 if k % 11 == 0 else 0.0,
        load=0.1 if k % 400 == 5 else 0.0, load_c=20.0, defrost=float(k % 300 < 25),
    )
    for k in range(2_000)
]  # fmt: skip


@pytest.mark.parametrize("heater_w", [0.0, 1_500.0])
@pytest.mark.parametrize("span_s", [20.0, 60.0, 300.0])
def test_no_heat_is_lost_or_made(heater_w: float, span_s: float) -> None:
    """What is stored changes by what crossed the walls, doors and machines, and no more."""
    room = cooler(CoolerSize(defrost_heater_w=heater_w))
    inside = begun(room, 3.0, 90.0)
    before_j = stored_j(room, inside)
    moved_j = 0.0
    for step in RESTLESS:
        gained_j = inside.gained_j
        advance(room, inside, step, span_s)
        moved_j += abs(inside.gained_j - gained_j)
    assert stored_j(room, inside) - before_j == pytest.approx(
        inside.gained_j, abs=1e-9 * moved_j
    )  # fmt: skip


def test_a_closed_box_comes_to_one_temperature() -> None:
    """Air and contents of a box without walls meet at the mean by their heat capacities."""
    room = Room(
        air_j_k=100_000.0, contents_j_k=300_000.0, ua_w_k=0.0, moisture_kg=20.0,
        contents_lag_s=1_800.0,
    )  # fmt: skip
    inside = begun(room, 10.0, 50.0)
    inside.contents_c = 2.0
    for _ in range(600):
        advance(room, inside, Step(30.0, 0.01), 60.0)
    assert inside.air_c == pytest.approx(4.0, abs=1e-6)
    assert inside.contents_c == pytest.approx(4.0, abs=1e-6)


def test_a_dead_room_warms_by_the_closed_form() -> None:
    """With its machine dead a bare room follows T = To - (To - T0) exp(-t / tau)."""
    room = Room(180_000.0, 1.0, 20.0, 1.0, 9_000.0)
    inside = begun(room, 2.0, 0.0)
    for _ in range(53):
        advance(room, inside, Step(22.0, 0.0), 60.0)
    expected_c = 22.0 - 20.0 * np.exp(-53 * 60.0 * 20.0 / 180_000.0)
    assert inside.air_c == pytest.approx(expected_c, abs=1e-3)


def test_long_and_short_steps_agree() -> None:
    """Steps of one second and of two minutes end within the noise of an instrument."""
    ends = []
    for span_s in (1.0, 120.0):
        room = replace(cooler(CoolerSize(defrost_heater_w=0.0)), cooling=None)
        inside = begun(room, 3.0, 85.0)
        for _ in range(round(7_200.0 / span_s)):
            advance(room, inside, Step(20.0, 0.008), span_s)
        ends.append((inside.air_c, inside.contents_c))
    assert ends[0] == pytest.approx(ends[1], abs=0.05)


def test_a_heated_defrost_stalls_before_it_spikes() -> None:
    """While frost melts the coil stays at 0 °C; only then does it warm and heat the air."""
    room = cooler(CoolerSize(defrost_heater_w=800.0))
    inside = begun(room, 3.0, 92.0)
    inside.coil.frost_kg = 2.0
    coil, air = [], []
    for _ in range(30):
        advance(room, inside, Step(18.0, 0.008, defrost=1.0), 60.0)
        coil.append(inside.coil.metal_c)
        air.append(inside.air_c)
    melting = [k for k, metal_c in enumerate(coil) if metal_c == 0.0]
    assert len(melting) >= 10
    assert max(coil) > 8.0
    rise_k = np.diff(air)
    after = melting[-1] + 2
    assert rise_k[after] > rise_k[melting[-1] - 1]


def test_a_running_coil_gathers_frost_and_a_choked_one_cools_less() -> None:
    """Below 0 °C the water that is caught stays on the coil as frost."""
    room = cooler(CoolerSize())
    inside = begun(room, 3.0, 95.0)
    advance(room, inside, Step(18.0, 0.008, cooling_stuck=1.0), 600.0)
    assert inside.coil.frost_kg > 0.0


@pytest.mark.parametrize("seed", range(25))
def test_coolers_of_all_sizes_keep_their_temperature(seed: int) -> None:
    """Any random cooler settles around its thermostat's band and stays finite."""
    size = random_size(dice(seed, "size"))
    room = cooler(size)
    inside = begun(room, size.low_c + 1.0, 88.0)
    seen = []
    for k in range(1_440):
        advance(room, inside, Step(22.0, 0.009, defrost=float(k % 480 < 20)), 60.0)
        seen.append(inside.air_c)
    median_c = float(np.median(seen))
    assert size.low_c - 0.5 < median_c < size.high_c + 0.5
    assert 0.2 * 3_600.0 < time_constant_s(room) < 60 * 3_600.0


def test_random_coolers_span_half_an_hour_to_many_hours() -> None:
    """The time constants of a hundred coolers reach below 1.5 h and above 12 h."""
    constants_h = [
        time_constant_s(cooler(random_size(dice(seed, "size")))) / 3_600.0 for seed in range(100)
    ]
    assert min(constants_h) < 1.5
    assert max(constants_h) > 12.0


def test_a_sprouting_room_is_heated_in_the_cold_and_cooled_in_the_heat() -> None:
    """Outside at -5 °C or at 30 °C the room stays within its band."""
    for outside_c in (-5.0, 30.0):
        room = sprouting_room(7.2, 10.0)
        inside = begun(room, 8.6, 90.0)
        seen = []
        for _ in range(2_880):
            advance(room, inside, Step(outside_c, 0.002), 60.0)
            seen.append(inside.air_c)
        assert 7.2 < min(seen) < max(seen) < 10.0
        assert (inside.heated_s > inside.cooled_s) == (outside_c < 0.0)


def test_contents_too_quick_for_the_steps_are_refused() -> None:
    """A lag below two minutes is refused with the least that is taken."""
    with pytest.raises(OutOfRangeError, match="at least 120 s"):
        Room(1.0, 1.0, 1.0, 1.0, 60.0)


def test_an_idle_coil_never_takes_more_heat_than_brings_the_air_to_it() -> None:
    """However large the coil and long the step, the air does not swing past the coil."""
    room = cooler(CoolerSize())
    cooling = room.cooling
    assert cooling is not None
    huge = Coil(blown_w_k=1e6, metal_j_k=1e9, heater_w=0.0)
    room = replace(room, cooling=replace(cooling, coil=huge))
    inside = begun(room, 4.0, 80.0)
    inside.coil.metal_c = 1.0
    advance(room, inside, Step(4.0, 0.004, cooling=0.0), 600.0)
    assert 0.9 < inside.air_c < 4.0
