"""A report as JSON: the shape others may rely on; more keys may come."""

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from monitor.alarms.listing import alarms_json
from monitor.batches.history_listing import history_json
from monitor.batches.listing import batch_details_json
from monitor.batches.readiness import Days, Forecast, Looks
from monitor.batches.unknown import Unknown
from monitor.batches.verdict import ADVICE, Promise, Reason, Verdict
from monitor.farm import Sensor
from monitor.model import Band
from monitor.report.making import CAUTIONS, Report
from monitor.report.wetness import SURROGATE, Wet, wet_by_stage
from monitor.units import iso_utc


def report_json(report: Report) -> dict[str, Any]:
    """Return a report; what is missing is null, times are UTC with Z, values °C and %."""
    told = report.told
    details = batch_details_json(told.batch, told.book, told.entries, {})
    details.pop("state")
    history = history_json(report.history)
    wet = wet_by_stage(told)
    return details | {
        "at": iso_utc(told.now_ms),
        "sensors_combined_by": history["sensors_combined_by"],
        "stages": [each | _wet_json(wet.get(each["stage"])) for each in history["stages"]],
        "unknown": [_unknown_json(each) for each in told.unknown],
        "verdict": verdict_json(report.verdict) | {"text": report.spoken},
        "readiness": report.judged.forecast and _forecast_json(report.judged.forecast),
        "looks": report.judged.looks and _looks_json(report.judged.looks),
        "alarms": alarms_json(told.alarms),
        "sensors": [_sensor_json(each) for each in report.sensors],
        "limits": limits_json(report),
        "notes": list(report.notes),
        "cautions": CAUTIONS,
    }


def _wet_json(wet: Wet | None) -> dict[str, Any]:
    """Return a stage's wet hours; null where they are not known or mean nothing."""
    told = wet and {"wet_h": wet.wet_h, "known_h": wet.known_h, "surrogate": SURROGATE.value}
    return {"wetness": told}


def verdict_json(verdict: Verdict) -> dict[str, Any]:
    """Return a verdict: its answer, and each reason with its text and figures."""
    return {
        "answer": verdict.answer.value,
        "condition": verdict.condition,
        "reasons": [_reason_json(each) for each in verdict.reasons],
        "cost_of_waiting": verdict.cost_of_waiting,
        "promise": verdict.promise and _promise_json(verdict.promise),
        "advice": ADVICE,
    }


def _reason_json(reason: Reason) -> dict[str, Any]:
    figures = {
        key.removesuffix("_ms"): iso_utc(value) if key.endswith("_ms") else value
        for key, value in reason.figures.items()
    }
    return {
        "text": reason.text, "kind": reason.kind, "pull": reason.pull.value, "figures": figures,
    }  # fmt: skip


def _promise_json(promise: Promise) -> dict[str, Any]:
    return {"for": iso_utc(promise.for_ms), "good": promise.good.value, "why": promise.why}


def _unknown_json(run: Unknown) -> dict[str, Any]:
    return {
        "place": run.place, "stage": run.stage, "from": iso_utc(run.from_ms),
        "to": iso_utc(run.until_ms), "could_hide_harm": run.hides_harm,
    }  # fmt: skip


def _days_json(days: Days) -> dict[str, Any]:
    return {
        "early": iso_utc(days.early_ms), "middle": iso_utc(days.middle_ms),
        "late": iso_utc(days.late_ms),
    }  # fmt: skip


def _forecast_json(told: Forecast) -> dict[str, Any]:
    plain = asdict(told) | {
        "ready": _days_json(told.ready), "too_long": _days_json(told.too_long),
        "range_holds": 0.8,
    }  # fmt: skip
    return plain | {
        "degree_days_cd": plain.pop("degree_days"), "rate_cd_per_day": plain.pop("rate"),
    }  # fmt: skip


def _looks_json(looks: Looks) -> dict[str, Any]:
    return {"last_at": iso_utc(looks.last_ms), "due_at": iso_utc(looks.due_ms)}


def _sensor_json(sensor: Sensor) -> dict[str, Any]:
    return {
        "id": sensor.id, "name": sensor.name, "place": sensor.place, "hangs": sensor.hangs,
        "channels": [
            {
                "quantity": spec.quantity.value,
                "calibrations": [
                    {
                        "since": iso_utc(each.since_ms), "offset": each.offset,
                        "slope": each.slope, "note": each.note,
                    }
                    for each in spec.calibrations
                ],
            }
            for spec in sensor.channels
        ],
    }  # fmt: skip


def limits_json(report: Report) -> list[dict[str, Any]]:
    """Return the limits that were in force, each with its source and grade, once each."""
    found: list[dict[str, Any]] = []
    for part, _ in report.told.met:
        for quantity, band in part.bands.items():
            row = {"stage": part.stage, "quantity": quantity.value, **_band_json(band)}
            if row not in found:
                found.append(row)
    return found


def _band_json(band: Band) -> Mapping[str, Any]:
    ideal, harm = band.ideal, band.harm
    return {
        "ideal": ideal and {
            "low": ideal.low, "high": ideal.high, "grade": ideal.grade.value,
            "source": ideal.source,
        },
        "harm": harm and {
            "low": harm.low, "high": harm.high, "tolerated_low_s": harm.tolerated_low_s,
            "tolerated_high_s": harm.tolerated_high_s, "cumulative_s": harm.cumulative_s,
            "grade": harm.grade.value, "source": harm.source,
        },
    }  # fmt: skip
