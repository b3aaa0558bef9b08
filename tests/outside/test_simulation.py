"""The simulator against printed check values, tables and measured nights.

The figures are those of the farm's handbook (published text and reference runs); the
tables lie in ``../shared/science`` beside the repository and are asked for there.
"""

import csv
from dataclasses import replace
from datetime import date
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from monitor.science.moist_air import saturation_over_water_pa
from monitor.science.sun import sun_times
from simulator.coil import Coil
from simulator.cooler import begun as cooler_begun
from simulator.dice import Floats
from simulator.door import Door, exchange
from simulator.lagging import follow
from simulator.moist import (
    density_kg_m3,
    enthalpy_j_kg,
    humidity_ratio,
    relative_humidity_pct,
    saturation_pa,
)
from simulator.places import TunnelPlace
from simulator.room import Cooling, Room, Step
from simulator.room import advance as advance_room
from simulator.sky import downward_w_m2, emissivity, sky_temperature_k
from simulator.sunlight import sine_of_elevation
from simulator.surroundings import surroundings
from simulator.tunnel import Air, Tunnel
from simulator.tunnel import advance as advance_tunnel
from simulator.tunnel import begun as tunnel_begun
from simulator.weather import Climate, Weather
from tests.shared_files import shared

pytestmark = pytest.mark.outside

DAY_MS = 86_400_000


def _table(name: str) -> list[dict[str, float]]:
    """Return a table's rows as numbers; skip the test where the table is absent."""
    with shared(f"science/{name}").open(encoding="utf-8") as lines:
        rows = list(csv.DictReader(lines))
    return [{key: _number(value) for key, value in row.items()} for row in rows]


def _number(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return float("nan")


def test_the_printed_door_lets_in_the_printed_heat() -> None:
    """1.8 m² by 2.0 m between 2 °C/95 % and 25 °C/60 %: 21.689 kW and 3.904 g/s.

    Those figures rest on Hyland & Wexler; the Magnus form is 0.3 % off in the ratios.
    """
    through = exchange(
        Door(1.8, 2.0), 2.0, humidity_ratio(2.0, 95.0), 25.0, humidity_ratio(25.0, 60.0)
    )  # fmt: skip
    assert through.heat_w == pytest.approx(21_689.0, rel=0.005)
    assert through.moisture_kg_s * 1000.0 == pytest.approx(3.904, rel=0.005)


def test_doors_of_other_sizes_and_seasons() -> None:
    """Every row of the table agrees: flow, heat and moisture."""
    for row in _table("door.csv"):
        inside, outside = row["W_i_gkg"] / 1000.0, row["W_o_gkg"] / 1000.0
        door = Door(row["A_m2"], row["H_m"])
        through = exchange(door, row["Ti_C"], inside, row["To_C"], outside)
        assert density_kg_m3(row["Ti_C"], inside) == pytest.approx(row["rho_i"], rel=1e-4)
        assert enthalpy_j_kg(row["To_C"], outside) == pytest.approx(
            row["h_o_kJkg"] * 1000.0, rel=1e-4
        )  # fmt: skip
        assert through.heat_w == pytest.approx(row["q_full_open_kW"] * 1000.0, rel=1e-3)
        assert through.moisture_kg_s == pytest.approx(row["moisture_g_s"] / 1000.0, rel=1e-3)


def test_a_curtain_holds_back_its_share() -> None:
    """Heat is in proportion to 1 less the protection."""
    sides = (2.0, humidity_ratio(2.0, 95.0), 25.0, humidity_ratio(25.0, 60.0))
    bare, half = exchange(Door(), *sides), exchange(Door(protection=0.5), *sides)
    assert half.heat_w == pytest.approx(0.5 * bare.heat_w)


def test_the_quick_saturation_pressure_agrees_with_the_accurate_one() -> None:
    """Magnus is 0.29 % at most from Hyland & Wexler between 0 and 35 °C (so the handbook)."""
    at_c = np.linspace(0.0, 35.0, 71)
    quick = np.array([saturation_pa(each) for each in at_c.tolist()])
    assert quick == pytest.approx(saturation_over_water_pa(at_c), rel=0.00295)


def _bare_room(cooling: Cooling | None, ua_w_k: float = 20.0, tau_min: float = 150.0) -> Room:
    return Room(ua_w_k * tau_min * 60.0, 1e-3, ua_w_k, 30.0, 9_000.0, cooling=cooling)


SEALED = Coil(
    flow_kg_s=0.0, metal_j_k=1e-6, blown_w_k=1e-9, still_w_k=1e-9, choking_kg=1e30, heater_w=0.0
)  # fmt: skip


def _cycle_min(
    ambient_c: float, cold_c: float, tau_min: float, low_c: float, high_c: float
) -> tuple[float, float]:
    """Return the mean minutes off and on of a bare cooler's thermostat cycle."""
    cooling = Cooling(20.0 * (ambient_c - cold_c), low_c, high_c, SEALED)
    room = _bare_room(cooling, 20.0, tau_min)
    inside = cooler_begun(room, high_c, 0.0)
    edges, on_s, on = [], [], True
    for minute in range(60 * 24 * 10):
        advance_room(room, inside, Step(ambient_c, 0.0), 60.0)
        if inside.cooling_on and not on:
            edges.append(minute * 60.0)
            on_s.append(inside.cooled_s)
        on = inside.cooling_on
    spans_s, runs_s = np.diff(edges), np.diff(on_s)
    cycles = spans_s.size
    period_s = (edges[-1] - edges[0]) / cycles
    run_s = float(runs_s.mean())
    return (period_s - run_s) / 60.0, run_s / 60.0


def test_the_thermostat_cycle_has_its_closed_form_times() -> None:
    """22 °C outside, -8 °C asymptote, 1 to 3 °C, tau 150 min: 15.01 min off, 30.10 on."""
    off_min, on_min = _cycle_min(22.0, -8.0, 150.0, 1.0, 3.0)
    assert off_min == pytest.approx(15.01, abs=0.05)
    assert on_min == pytest.approx(30.10, abs=0.02)


def test_other_thermostat_cycles() -> None:
    """Every row of the table agrees."""
    for row in _table("thermostat.csv"):
        off_min, on_min = _cycle_min(
            row["T_amb"], row["T_cold_asymptote"], row["tau_min"], row["T_low"], row["T_high"]
        )  # fmt: skip
        assert off_min == pytest.approx(row["t_off_min"], abs=0.05)
        assert on_min == pytest.approx(row["t_on_min"], rel=2e-3)


def _floor_pct(room_c: float, difference_k: float) -> float:
    """Return the humidity at which a coil leaves a room that is held at a temperature."""
    coil = replace(SEALED, difference_k=difference_k, flow_kg_s=0.5)
    room = replace(_bare_room(Cooling(1.0, -90.0, -80.0, coil)), air_j_k=1e9, contents_j_k=1e9)
    inside = cooler_begun(room, room_c, 99.0)
    for _ in range(600):
        advance_room(room, inside, Step(room_c, 0.0), 60.0)
    return relative_humidity_pct(inside.air_c, inside.ratio)


@pytest.mark.parametrize(
    ("difference_k", "humidity_pct"),
    [(2.0, 86.6), (3.0, 79.7), (4.0, 73.3), (5.0, 67.4), (6.0, 62.0), (8.0, 52.2)],
)
def test_a_coil_dries_the_room_to_its_own_saturation(
    difference_k: float, humidity_pct: float
) -> None:
    """At 2 °C the floor is p_ws(coil) over p_ws(room)."""
    assert _floor_pct(2.0, difference_k) == pytest.approx(humidity_pct, abs=0.15)


def test_coil_floors_at_other_temperatures() -> None:
    """Every row of the table agrees."""
    for row in _table("coil_rh.csv"):
        floor_pct = _floor_pct(row["T_room_C"], row["coil_TD_K"])
        assert floor_pct == pytest.approx(row["RH_floor_pct=pws(Tcoil)/pws(Troom)"], abs=0.2)


def test_the_clear_sky_shines_as_printed() -> None:
    """Clark & Allen: 20 °C with a dew point of 10 °C gives 341.2 W/m²."""
    assert downward_w_m2(20.0, 10.0, 0.0) == pytest.approx(341.2, abs=0.1)


def test_other_clear_skies() -> None:
    """Every row of the table by that model agrees; it divides by 273.15 instead of 273."""
    with shared("science/sky.csv").open(encoding="utf-8") as lines:
        rows = [row for row in csv.DictReader(lines) if row["model"] == "ClarkAllen"]
    assert len(rows) >= 5
    for row in rows:
        air_c, dew_c = float(row["T_C"]), float(row["Td_C"])
        assert emissivity(dew_c, 0.0) == pytest.approx(float(row["eps_sky"]), abs=6e-4)
        assert downward_w_m2(air_c, dew_c, 0.0) == pytest.approx(
            float(row["Ldown_W_m2"]), abs=0.25
        )  # fmt: skip
        sky_c = sky_temperature_k(air_c, dew_c, 0.0) - 273.15
        assert sky_c == pytest.approx(float(row["Tsky_C"]), abs=0.06)


def _steady_c(outside_c: float, dew_c: float, soil_c: float, long_wave: float) -> float:
    """Return where a dark tunnel settles over soil that is held."""
    tunnel = Tunnel(
        dry_long_wave=long_wave, wet_long_wave=long_wave, soil_j_m2k=1e15, wet_kg_m2s=0.0
    )
    grown = tunnel_begun(outside_c, soil_c)
    air = Air(outside_c, dew_c, sky_temperature_k(outside_c, dew_c, 0.0), 0.0, soil_c)
    for _ in range(600):
        advance_tunnel(tunnel, grown, air, 60.0)
    return grown.air_c


def test_a_dry_tunnel_sits_under_the_air_outside_and_a_wet_one_over_it() -> None:
    """Outside 0 °C with a dew point of -3 °C: dry -1.60 °C, wet +0.24 °C."""
    assert _steady_c(0.0, -3.0, 2.0, 0.6) == pytest.approx(-1.60, abs=0.01)
    assert _steady_c(0.0, -3.0, 2.0, 0.1) == pytest.approx(0.24, abs=0.01)


def test_other_tunnel_nights() -> None:
    """Every row of the table agrees."""
    for row in _table("tunnel_night.csv"):
        steady_c = _steady_c(row["T_out_C"], row["Td_out_C"], row["T_soil_C"], row["tau_lw"])
        assert steady_c == pytest.approx(row["T_tunnel_C"], abs=0.01)


def test_a_lagging_body_follows_the_closed_form() -> None:
    """From 2 to 10 °C, tau 15 min: every row of the table, whatever the step."""
    for row in _table("lag.csv"):
        stepped = follow(np.full(1, 10.0), 2.0, row["dt_min"] / row["tau_min"])
        minutes = follow(np.full(round(row["dt_min"]), 10.0), 2.0, 1.0 / row["tau_min"])
        assert stepped[-1] == pytest.approx(row["Tp_after_step_2to10_C"], abs=1e-5)
        assert minutes[-1] == pytest.approx(row["Tp_after_step_2to10_C"], abs=1e-5)


def test_the_sun_rises_and_sets_when_the_almanac_says() -> None:
    """Sunrise and sunset (sun's upper limb, -0.833°) agree with the science module to 2 min."""
    sun = sun_times(date(2026, 10, 17), 41.0, -75.0)
    for at_ms in (sun.rise_ms, sun.set_ms):
        assert at_ms is not None
        around = np.array([at_ms - 120_000, at_ms + 120_000], dtype=np.int64)
        heights = np.degrees(np.arcsin(sine_of_elevation(around, 41.0, -75.0))) + 0.833
        assert heights[0] * heights[1] < 0.0


def _tunnel_months() -> tuple[Floats, Floats]:
    """Return air outside and in a tunnel by day and minute: months of three seeds."""
    outside, inside = [], []
    start_ms = 1_791_504_000_000  # 2026-10-09
    at_ms = start_ms + 60_000 * np.arange(1, 30 * 1_440 + 1, dtype=np.int64)
    for seed in (1, 2, 3):
        for shift_days in (0, 160):
            around = surroundings(
                Weather(Climate(41.0, -75.0), seed),
                ZoneInfo("America/New_York"),
                at_ms + shift_days * DAY_MS,
            )
            place = TunnelPlace(Tunnel(), tunnel_begun(10.0, 10.0))
            inside.append(place.play(around, 60.0).air_c.reshape(-1, 1_440))
            outside.append(around.outside.air_c.reshape(-1, 1_440))
    return np.concatenate(outside), np.concatenate(inside)


def test_simulated_tunnels_stand_to_the_weather_as_measured_ones_do() -> None:
    """Measured: minima +1.3 °C and maxima +4.2 °C over outside; falls of 5.5 and 3.5 °C/h.

    As a band of plausibility: minima within 1.5 °C, maxima within 3 °C of the measured
    means, and the steepest fall inside is steeper than outside, both within 2 °C/h.
    """
    outside, inside = _tunnel_months()
    assert (inside.min(axis=1) - outside.min(axis=1)).mean() == pytest.approx(1.3, abs=1.5)
    assert (inside.max(axis=1) - outside.max(axis=1)).mean() == pytest.approx(4.2, abs=3.0)
    fall_in = (inside[:, :-60] - inside[:, 60:]).max()
    fall_out = (outside[:, :-60] - outside[:, 60:]).max()
    assert fall_in == pytest.approx(5.5, abs=2.0)
    assert fall_out == pytest.approx(3.5, abs=2.0)
    assert fall_in > fall_out
