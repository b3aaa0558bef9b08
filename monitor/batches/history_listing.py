"""A batch's history as JSON: the stages, and the times out in each."""

from typing import Any

from monitor.batches.combining import RULE, Disagreement
from monitor.batches.history import History, QuantityHistory, StageHistory
from monitor.batches.outside import TimeOut
from monitor.units import iso_utc


def history_json(history: History) -> dict[str, Any]:
    """Return a history; what is missing is null, times are UTC with Z."""
    return {
        "batch": history.batch,
        "until": iso_utc(history.until_ms),
        "sensors_combined_by": RULE,
        "stages": [_stage_json(each) for each in history.stages],
    }


def _stage_json(stage: StageHistory) -> dict[str, Any]:
    return {
        "stage": stage.stage, "since": iso_utc(stage.since_ms), "until": iso_utc(stage.until_ms),
        "length_s": stage.length_s, "places": list(stage.places), "coverage": stage.coverage,
        "in_band_share": stage.in_band_share, "thermal_time_cd": stage.thermal_time_cd,
        "unmeasured": list(stage.unmeasured),
        "excursions": [time_out_json(each) for each in stage.excursions],
        "quantities": {
            quantity.value: _quantity_json(each) for quantity, each in stage.quantities.items()
        },
    }  # fmt: skip


def _quantity_json(told: QuantityHistory) -> dict[str, Any]:
    return {
        "sensors": list(told.sensors), "known_s": told.known_s, "coverage": told.coverage,
        "in_band_share": told.in_band_share, "mean": told.mean, "low": told.low,
        "high": told.high, "degree_hours": told.degree_hours,
        "harm_time_used_up_at": iso_utc(told.used_up_ms),
        "disagreement": told.disagreement and _disagreement_json(told.disagreement),
    }  # fmt: skip


def _disagreement_json(found: Disagreement) -> dict[str, Any]:
    return {
        "mean": found.mean,
        "largest": found.largest,
        "largest_at": iso_utc(found.largest_at_ms),
    }


def time_out_json(out: TimeOut) -> dict[str, Any]:
    """Return one time out; ``began_seen`` and ``ended_seen`` are false where a gap cuts it."""
    return {
        "from": iso_utc(out.from_ms), "to": iso_utc(out.until_ms),
        "quantity": out.quantity.value, "side": out.side.value, "limit": out.limit,
        "peak": out.peak, "degree_hours": out.degree_hours, "kind": out.depth.value,
        "place": out.place, "too_long": out.too_long, "tolerated_s": out.tolerated_s,
        "began_seen": out.began, "ended_seen": out.ended,
    }  # fmt: skip
