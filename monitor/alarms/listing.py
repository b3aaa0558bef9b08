"""Alarms as JSON: the shape that others may rely on; more keys may come."""

from collections.abc import Iterable
from typing import Any

from monitor.model import Alarm, AuditLine
from monitor.units import iso_utc


def alarms_json(alarms: Iterable[Alarm]) -> list[dict[str, Any]]:
    """Return alarms in the order given; values in [°C] or [%], times UTC."""
    return [alarm_json(alarm) for alarm in alarms]


def alarm_json(alarm: Alarm) -> dict[str, Any]:
    """Return one alarm."""
    return {
        "id": alarm.id, "kind": alarm.key.kind.value, "place": alarm.place,
        "sensor": alarm.sensor, "batches": list(alarm.batches),
        "priority": alarm.priority.value, "state": alarm.state.value,
        "began_at": iso_utc(alarm.began_ms), "raised_at": iso_utc(alarm.raised_ms),
        "returned_at": iso_utc(alarm.returned_ms),
        "acknowledged_at": iso_utc(alarm.acknowledged_ms),
        "acknowledged_by": alarm.acknowledged_by,
        "quantity": alarm.quantity.value if alarm.quantity else None,
        "value": alarm.value, "limit": alarm.limit, "peak": alarm.peak,
        "title": alarm.title, "text": alarm.text, "active": alarm.active,
        "until_at": iso_utc(alarm.until_ms), "why": alarm.why or None, "once": alarm.once,
        "answer": alarm.answer.value if alarm.answer else None,
    }  # fmt: skip


def audit_json(lines: Iterable[AuditLine]) -> list[dict[str, Any]]:
    """Return an alarm's transitions, oldest first as given."""
    return [
        {
            "at": iso_utc(line.at_ms), "by": line.by, "before": line.before.value,
            "after": line.after.value, "value": line.value, "limit": line.limit,
            "note": line.note,
        }
        for line in lines
    ]  # fmt: skip
