"""An answer is no cure: when an alarm that was answered rings again. Pure.

IEC 62682 calls it re-alarm: acknowledged → unacknowledged. Thirty minutes without getting
better, harm within the hour, or 2 K further out; common practice, no published figures.
"""

from dataclasses import dataclass, replace
from typing import Final

from monitor.alarms.deciding import WATCH, Decider, line
from monitor.model import Alarm, AlarmKind, AlarmState, Decision, Priority
from monitor.phrase import Phrase

BETTER_WITHIN_MS: Final = 30 * 60_000
HARM_NEAR_MS: Final = 3_600_000
HOLD_MS: Final = 10 * 60_000
"""With harm near from the start, an answer holds so long: time to get there. [ms]"""
WORSE_BY_K: Final = 2.0
ANSWERED: Final = "answered"
"""Key in an alarm's facts: the answer's time and the value it was given at."""
_UP: Final = (AlarmKind.TOO_WARM, AlarmKind.TOO_WET)
_TEMPERATURES: Final = (AlarmKind.TOO_WARM, AlarmKind.TOO_COLD)


@dataclass(frozen=True, slots=True)
class Stand:
    """How it stands now: the worst value and trend [°C or %, per hour], and when harm comes."""

    value: float | None = None
    trend_per_h: float | None = None
    deadband: float = 0.3
    harm_ms: int | None = None


def note_answered(stand: Stand) -> Decider:
    """Return the decider that keeps the value at which an answer was given, once."""

    def decide(alarm: Alarm | None) -> Decision | None:
        if alarm is None or alarm.state is not AlarmState.ACKNOWLEDGED or stand.value is None:
            return None
        if _answered_at(alarm) is not None:
            return None
        kept = {"at_ms": alarm.acknowledged_ms, "value": stand.value}
        return Decision(replace(alarm, facts={**alarm.facts, ANSWERED: kept}), ())

    return decide


def ring_again(stand: Stand, now_ms: int) -> Decider:
    """Return the decider for an answered alarm: it rings again, or nothing changes."""

    def decide(alarm: Alarm | None) -> Decision | None:
        why = "" if alarm is None else why_again(alarm, stand, now_ms)
        if alarm is None or not why:
            return None
        rung = replace(
            alarm, state=AlarmState.UNACKNOWLEDGED, answer=None,
            facts={**alarm.facts, "rung_ms": now_ms, "first": alarm.acknowledged_by},
        )  # fmt: skip
        return Decision(rung, (line(alarm.state, rung, WATCH, now_ms, f"rings again: {why}"),))

    return decide


def why_again(alarm: Alarm, stand: Stand, now_ms: int) -> str:
    """Return why an answered alarm rings again now, in words; nothing where it does not."""
    if not _waits(alarm) or alarm.acknowledged_ms is None:
        return ""
    ago_ms = now_ms - alarm.acknowledged_ms
    if _worse(alarm, stand) > WORSE_BY_K and alarm.key.kind in _TEMPERATURES:
        return Phrase("it has become clearly worse since the answer")
    if _better(alarm, stand):
        return ""
    near = stand.harm_ms is not None and stand.harm_ms - now_ms < HARM_NEAR_MS
    if near and not 0 <= ago_ms < HOLD_MS:
        return Phrase("harm is less than an hour off")
    if not 0 <= ago_ms < BETTER_WITHIN_MS:  # an answer of the future: the clock went back
        return Phrase("it has not become better since the answer")
    return ""


def _waits(alarm: Alarm) -> bool:
    """Return whether a grave alarm was answered and is still there."""
    grave = alarm.priority is Priority.HIGH and alarm.active
    return grave and alarm.state is AlarmState.ACKNOWLEDGED


def _answered_at(alarm: Alarm) -> float | None:
    kept = alarm.facts.get(ANSWERED)
    if not kept or kept["at_ms"] != alarm.acknowledged_ms:
        return None
    return float(kept["value"])


def _worse(alarm: Alarm, stand: Stand) -> float:
    """Return how much further out it is than at the answer; below zero where nearer."""
    before = _answered_at(alarm)
    before = alarm.value if before is None else before
    if before is None or stand.value is None:
        return 0.0
    return (stand.value - before) * _sign(alarm)


def _better(alarm: Alarm, stand: Stand) -> bool:
    """Return whether it is nearer to the band by more than the deadband, and not going out."""
    away = (stand.trend_per_h or 0.0) * _sign(alarm) > 0.0
    return -_worse(alarm, stand) > stand.deadband and not away


def _sign(alarm: Alarm) -> int:
    return 1 if alarm.key.kind in _UP else -1
