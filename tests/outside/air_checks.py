"""Moist air against published figures and two reference libraries."""

from typing import Final

import numpy as np
import psychrolib
from CoolProp import HumidAirProp

from monitor.science import moist_air
from monitor.science.checking import Floats
from tests.outside.checking import Check, apart, apart_pct, column, rows

_K: Final = 273.15
_SEA_PA: Final = 101_325.0
_GRID_C: Final = np.repeat(np.arange(-8.0, 41.0, 4.0), 7)
_GRID_PCT: Final = np.tile([20.0, 35.0, 50.0, 65.0, 80.0, 90.0, 98.0], 13)

# T, RH over water | e_s, VPD [Pa], g/m3, g/kg, dew point, wet bulb [°C]: PsychroLib 2.5.0
_TABLE: Final = np.array([
    [2, 95, 705.95, 35.3, 5.281, 4.1440, 1.284, 1.693],
    [4, 90, 813.48, 81.35, 5.724, 4.5266, 2.511, 3.329],
    [10, 80, 1228.0, 245.6, 7.518, 6.0891, 6.713, 8.289],
    [20, 50, 2338.8, 1169.4, 8.643, 7.2617, 9.273, 13.780],
    [25, 60, 3169.2, 1267.7, 13.819, 11.8951, 16.702, 19.469],
    [35, 30, 5627.8, 3939.5, 11.872, 10.5389, 14.847, 21.519],
])  # fmt: skip


def _psychrolib() -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)


def _over_water() -> float:
    _psychrolib()
    at = np.arange(0.5, 60.0, 0.5)
    return apart_pct(
        moist_air.saturation_over_water_pa(at), [psychrolib.GetSatVapPres(t) for t in at]
    )


def _over_water_coolprop() -> float:
    at = np.arange(0.5, 40.0, 0.5)
    theirs = [HumidAirProp.HAProps_Aux("p_ws", t + _K, _SEA_PA, 0.0)[0] for t in at]
    return apart_pct(moist_air.saturation_over_water_pa(at), theirs)


def _over_ice() -> float:
    _psychrolib()
    at = np.arange(-60.0, -0.2, 0.5)
    theirs = [psychrolib.GetSatVapPres(t) for t in at]
    return apart_pct(moist_air.saturation_over_ice_pa(at), theirs)


def _supercooled() -> float:
    at = [-10.0, -5.0, -4.0, -3.0, -2.0, -1.0]
    theirs = [286.521, 421.804, 454.846, 490.169, 527.909, 568.208]
    return apart_pct(moist_air.saturation_over_water_pa(np.array(at)), theirs)


def _fao_example() -> float:
    ours = moist_air.saturation_over_water_pa(np.array([24.5, 15.0])) / 1000.0
    return apart(ours, [3.075, 1.705])


def _table(ours: Floats, place: int) -> float:
    return apart(ours, _TABLE[:, place])


def _e() -> Floats:
    return moist_air.vapour_pressure_pa(_TABLE[:, 0], _TABLE[:, 1])


def _over_ice_pct(t_c: Floats, e_pa: Floats) -> Floats:
    """Return humidity as PsychroLib and CoolProp mean it: over ice below 0 °C, a share."""
    ice = moist_air.saturation_over_ice_pa(np.minimum(t_c, 0.0))
    return np.asarray(e_pa / np.where(t_c > 0.0, moist_air.saturation_over_water_pa(t_c), ice))


def _grid() -> tuple[Floats, Floats, Floats]:
    """Return air, humidity and its share as the libraries mean it, where ice allows it."""
    share = _over_ice_pct(_GRID_C, moist_air.vapour_pressure_pa(_GRID_C, _GRID_PCT))
    keep = share <= 1.0
    return _GRID_C[keep], _GRID_PCT[keep], share[keep]


def _dew_psychrolib() -> float:
    _psychrolib()
    t_c, pct, share = _grid()
    e_pa = moist_air.vapour_pressure_pa(t_c, pct)
    ours = np.where(
        moist_air.dew_point_c(e_pa) >= 0.0,
        moist_air.dew_point_c(e_pa),
        moist_air.frost_point_c(np.minimum(e_pa, 611.15)),
    )
    theirs = [psychrolib.GetTDewPointFromRelHum(*pair) for pair in zip(t_c, share, strict=True)]
    return apart(ours, theirs)


def _wet_psychrolib() -> float:
    _psychrolib()
    t_c, pct, share = _grid()
    theirs = [
        psychrolib.GetTWetBulbFromRelHum(t, s, _SEA_PA) for t, s in zip(t_c, share, strict=True)
    ]
    return apart(moist_air.wet_bulb_c(t_c, pct), theirs)


def _coolprop(what: str, t_c: Floats, share: Floats) -> Floats:
    pairs = zip(t_c, share, strict=True)
    found = [
        HumidAirProp.HAPropsSI(what, "T", t + _K, "R", float(s), "P", _SEA_PA) for t, s in pairs
    ]
    return np.array(found) - _K


def _dew_coolprop() -> float:
    t_c, pct, share = _grid()
    e_pa = moist_air.vapour_pressure_pa(t_c, pct)
    keep = (moist_air.dew_point_c(e_pa) > 0.0) & (t_c <= 30.0)
    return apart(moist_air.dew_point_c(e_pa[keep]), _coolprop("D", t_c[keep], share[keep]))


def _wet_coolprop() -> float:
    t_c, pct, share = _grid()
    keep = (t_c > 0.0) & (t_c <= 30.0)
    return apart(moist_air.wet_bulb_c(t_c[keep], pct[keep]), _coolprop("B", t_c[keep], share[keep]))


def _frost_point() -> float:
    e_pa = moist_air.vapour_pressure_pa(-5.0, 80.0)
    ours = [float(moist_air.dew_point_c(e_pa)), float(moist_air.frost_point_c(e_pa))]
    return apart(ours, [-7.91, -7.02])


def _psychro_csv(ours: str, theirs: str) -> float:
    table = rows("science/psychro.csv")
    t_c, pct = column(table, "T_C"), column(table, "RH_pct_over_liquid_water")
    e_pa = moist_air.vapour_pressure_pa(t_c, pct)
    figures = {
        "dew": moist_air.dew_point_c(e_pa),
        "wet": moist_air.wet_bulb_c(t_c, pct),
        "mass": moist_air.absolute_humidity_g_m3(t_c, e_pa),
    }
    wanted = column(table, theirs)
    return apart(figures[ours][~np.isnan(wanted)], wanted[~np.isnan(wanted)])


def _occupancy() -> float:
    table = rows("data/occupancy_humidity_ratio.csv.gz")
    e_pa = moist_air.vapour_pressure_pa(column(table, "Temperature"), column(table, "Humidity"))
    return apart(moist_air.humidity_ratio(e_pa), column(table, "HumidityRatio"))


def _humidity_back() -> float:
    pairs = moist_air.dew_point_c(moist_air.vapour_pressure_pa(_GRID_C, _GRID_PCT))
    return apart(moist_air.relative_humidity_pct(_GRID_C, pairs), _GRID_PCT)


_ASHRAE: Final = "ASHRAE Fundamentals ch. 1"
CHECKS: Final = [
    Check(
        "saturation over water, 0 to 60 °C",
        f"{_ASHRAE} eq. 6 by PsychroLib",
        "%",
        0.001,
        _over_water,
    ),
    Check(
        "saturation over water, 0 to 40 °C", "IAPWS by CoolProp", "%", 0.02, _over_water_coolprop
    ),
    Check(
        "saturation over ice, -60 to 0 °C", f"{_ASHRAE} eq. 5 by PsychroLib", "%", 0.001, _over_ice
    ),
    Check(
        "saturation over supercooled water", "Sonntag 1990, -10 to -1 °C", "%", 0.02, _supercooled
    ),
    Check(
        "saturation over water",
        "FAO-56 example 3 (Tetens), to 3 places",
        "kPa",
        0.001,
        _fao_example,
    ),
    Check(
        "saturation, VPD",
        "PsychroLib 2.5.0, six states",
        "Pa",
        0.06,
        lambda: max(
            _table(moist_air.saturation_over_water_pa(_TABLE[:, 0]), 2),
            _table(moist_air.deficit_pa(_TABLE[:, 0], _TABLE[:, 1]), 3),
        ),
    ),
    Check(
        "absolute humidity",
        "PsychroLib 2.5.0, six states",
        "g/m³",
        0.0006,
        lambda: _table(moist_air.absolute_humidity_g_m3(_TABLE[:, 0], _e()), 4),
    ),
    Check(
        "humidity ratio",
        "PsychroLib 2.5.0, six states",
        "g/kg",
        0.0001,
        lambda: _table(1000.0 * moist_air.humidity_ratio(_e()), 5),
    ),
    Check(
        "dew point",
        "PsychroLib and CoolProp, six states",
        "K",
        0.01,
        lambda: _table(moist_air.dew_point_c(_e()), 6),
    ),
    Check(
        "wet bulb",
        "PsychroLib and CoolProp, six states",
        "K",
        0.01,
        lambda: _table(moist_air.wet_bulb_c(_TABLE[:, 0], _TABLE[:, 1]), 7),
    ),
    Check("dew and frost point, -8 to 40 °C", "PsychroLib, live", "K", 0.01, _dew_psychrolib),
    Check("wet bulb, -8 to 40 °C", "PsychroLib, live", "K", 0.01, _wet_psychrolib),
    Check("dew point, to 30 °C", "CoolProp, live (real gas)", "K", 0.06, _dew_coolprop),
    Check("wet bulb, to 30 °C", "CoolProp, live (real gas)", "K", 0.06, _wet_coolprop),
    Check(
        "dew and frost point at -5 °C, 80 % over water",
        "PsychroLib, CoolProp",
        "K",
        0.006,
        _frost_point,
    ),
    Check("relative humidity from dew point", "round trip of the above", "%", 1e-4, _humidity_back),
    Check(
        "dew point, 144 states",
        "Hyland & Wexler, table",
        "K",
        0.001,
        lambda: _psychro_csv("dew", "Td_HW_water_C"),
        "science/psychro.csv",
    ),
    Check(
        "wet bulb, 144 states",
        "PsychroLib, table",
        "K",
        0.002,
        lambda: _psychro_csv("wet", "Twb_psychrolib_C"),
        "science/psychro.csv",
    ),
    Check(
        "absolute humidity, 144 states",
        "ideal gas, table",
        "g/m³",
        0.0001,
        lambda: _psychro_csv("mass", "AH_g_m3"),
        "science/psychro.csv",
    ),
    Check(
        "humidity ratio, measured room",
        "Candanedo & Feldheim 2016",
        "kg/kg",
        3e-7,
        _occupancy,
        "data/occupancy_humidity_ratio.csv.gz",
    ),
]
