"""Readings, alarms and notices for the tests of the store."""

from monitor.model import (
    Alarm,
    AlarmKey,
    AlarmKind,
    AlarmState,
    AuditLine,
    Channel,
    Flag,
    Notice,
    NoticeKind,
    Priority,
    Quantity,
    Reading,
)

T0_MS = 1_790_000_000_000
HOUR_MS = 3_600_000
WARM = AlarmKey(AlarmKind.TOO_WARM, "walk-in-cooler")
AIR = Channel("cooler-air", Quantity.TEMPERATURE)
DAMP = Channel("cooler-air", Quantity.HUMIDITY)


def reading(
    at_ms: int, raw: float = 4.0, channel: Channel = AIR, flags: Flag = Flag.NONE
) -> Reading:
    """Return a reading received when it was taken."""
    return Reading(channel, at_ms, raw, flags, at_ms)


def alarm(state: AlarmState = AlarmState.UNACKNOWLEDGED, key: AlarmKey = WARM) -> Alarm:
    """Return an alarm that has no row yet."""
    return Alarm(
        id=0, key=key, priority=Priority.HIGH, state=state, place="walk-in-cooler",
        sensor="cooler-air", quantity=Quantity.TEMPERATURE, batches=(3, 14), began_ms=T0_MS,
        raised_ms=T0_MS + 600_000, returned_ms=None, acknowledged_ms=None, acknowledged_by=None,
        value=6.5, limit=5.0, peak=6.7, title="Walk-in cooler is warming",
        text="Air 43.7 °F", facts={"slope_c_per_h": 1.5, "count": 640},
    )  # fmt: skip


def line(after: AlarmState = AlarmState.UNACKNOWLEDGED) -> AuditLine:
    """Return an audit line of the monitor's own."""
    return AuditLine(T0_MS, "monitor", AlarmState.NORMAL, after, 6.5, 5.0, "raised")


def notice(alarm_id: int | None = 0, kind: NoticeKind = NoticeKind.RAISED) -> Notice:
    """Return a notice that waits to be sent."""
    return Notice(0, alarm_id, kind, "ada", "1", "Walk-in cooler is warming", "…", T0_MS, T0_MS)
