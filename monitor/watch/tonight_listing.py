"""Tonight as JSON: values [°C], chances 0 to 1, times UTC; what is not known is null."""

from collections.abc import Sequence
from typing import Any

from monitor.units import iso_utc
from monitor.watch.heat import Heat
from monitor.watch.tonight import Tonight


def tonight_json(told: Sequence[Tonight], warm: Sequence[Heat]) -> dict[str, Any]:
    """Return the nights and this morning's heat of every tunnel and field."""
    return {"nights": [_night(each) for each in told], "heat": [_heat(each) for each in warm]}


def _night(told: Tonight) -> dict[str, Any]:
    limit, typed, night = told.limit, told.typed, told.night
    return {
        "place": told.place,
        "evening": told.day.isoformat(),
        "sunset_at": iso_utc(night.set_ms) if night else None,
        "sunrise_at": iso_utc(night.rise_ms) if night else None,
        "judged_at": iso_utc(told.at_ms),
        "least": _rounded(told.least_c),
        "spread": _rounded(told.sd_k),
        "limit": _rounded(limit.limit_c) if limit else None,
        "batches": list(limit.batches) if limit else [],
        "chance": _rounded(told.chance, 3),
        "cover": told.cover,
        "chance_under_cover": _rounded(told.chance_covered, 3),
        "passes_at": iso_utc(told.passes_ms),
        "basis": told.basis.name.lower() if told.basis else None,
        "own_nights": told.own_nights,
        "missing": told.lack.value if told.lack else None,
        "forecast": None
        if typed is None
        else {"low": _rounded(typed.low_c), "by": typed.by, "at": iso_utc(typed.at_ms)},
    }


def _heat(told: Heat) -> dict[str, Any]:
    return {
        "place": told.place,
        "limit": _rounded(told.limit_c),
        "passes_at": iso_utc(told.middle_ms),
        "earliest_at": iso_utc(told.early_ms),
        "latest_at": iso_utc(told.late_ms),
        "chance": _rounded(told.chance, 3),
        "days": told.days,
        "basis": told.basis.name.lower(),
    }


def _rounded(value: float | None, digits: int = 2) -> float | None:
    return None if value is None else round(value, digits)
