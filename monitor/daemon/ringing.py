"""Drives what keeps an alarm from being forgotten: escalation, and answers that did not help."""

from datetime import timedelta
from typing import Final

from monitor import alarms, notices, watch
from monitor.alarms.ringing import Stand, note_answered, ring_again, why_again
from monitor.daemon.judge import Judge
from monitor.model import Alarm, AlarmKind, AlarmState, NoticeKind, PlaceState, Priority, Quantity
from monitor.notices import Letter
from monitor.phrase import Phrase
from monitor.science.sun import solar_day, sun_times

_HIGH: Final = (AlarmKind.TOO_WARM, AlarmKind.TOO_WET)
_FREEZING_C: Final = -0.5  # cut flowers and corms freeze a little below water (handbook, CP)
_LEAST_PER_H: Final = 0.1
_SUNSET: Final = "duty_asked_day"
NOBODY: Final = Phrase("Nobody is on duty tonight")


def do(judge: Judge, now_ms: int) -> None:
    """Ring whoever is to be rung now; say at sunset that nobody is on duty."""
    ledger, farm = judge.ledger, judge.farm
    duty = notices.on_duty(farm, ledger.duty_lines(), now_ms)
    for alarm in ledger.alarms(open_only=True):
        if alarm.state is AlarmState.UNACKNOWLEDGED:
            _escalate(judge, alarm, now_ms)
        elif alarm.state is AlarmState.ACKNOWLEDGED:
            _after_answer(judge, alarm, duty, now_ms)
    _ask_at_sunset(judge, duty, now_ms)


def _escalate(judge: Judge, alarm: Alarm, now_ms: int) -> None:
    farm, ledger = judge.farm, judge.ledger
    to = notices.next_told(farm, alarm, ledger.notices_of(alarm.id), now_ms)
    if to is not None:
        decide = notices.answer(
            alarms.remind(now_ms), farm.people, farm.notices, farm.zone, now_ms, to=to,
        )  # fmt: skip
        ledger.transact_id(alarm.id, decide, now_ms)


def _after_answer(judge: Judge, alarm: Alarm, duty: tuple[str, ...], now_ms: int) -> None:
    farm, ledger, stand = judge.farm, judge.ledger, stand_of(judge, alarm, now_ms)
    why = why_again(alarm, stand, now_ms)
    if not why:
        ledger.transact_id(alarm.id, note_answered(stand), now_ms)
        return
    decide = notices.answer(
        ring_again(stand, now_ms), farm.people, farm.notices, farm.zone, now_ms,
        note=Phrase("{person} has answered, but {why}.", person=alarm.acknowledged_by, why=why),
        to=notices.rung_first(farm, alarm, duty),
    )  # fmt: skip
    ledger.transact_id(alarm.id, decide, now_ms)


def stand_of(judge: Judge, alarm: Alarm, now_ms: int) -> Stand:
    """Return how an alarm of a figure stands now; the worst of several sensors."""
    place = alarm.place
    if alarm.quantity is None or place is None or place not in judge.state.plan.places:
        return Stand()
    known = [
        (each.value, each.trend_per_h)
        for each in watch.place_status(judge.state, place, now_ms).channels
        if each.channel.quantity is alarm.quantity and each.value is not None
        and each.state is not PlaceState.UNKNOWN
    ]  # fmt: skip
    if not known or place not in judge.farm.places:
        return Stand()
    value, trend = (max if alarm.key.kind in _HIGH else min)(known, key=_value)
    declared = judge.farm.places[place]
    wet = alarm.quantity is Quantity.HUMIDITY
    deadband = declared.deadband_pct if wet else declared.deadband_c
    return Stand(value, trend, deadband, _harm_ms(alarm, value, trend, now_ms))


def _value(known: tuple[float, float | None]) -> float:
    return known[0]


def _harm_ms(alarm: Alarm, value: float, trend: float | None, now_ms: int) -> int | None:
    """Return when harm comes: as forecast for what is kept, or as it falls to freezing. [ms]"""
    if alarm.key.kind is AlarmKind.TOO_COLD and alarm.quantity is Quantity.TEMPERATURE:
        if value <= _FREEZING_C:
            return now_ms
        if trend is not None and trend < -_LEAST_PER_H:
            return now_ms + round((_FREEZING_C - value) / trend * 3_600_000)
    forecast = alarm.facts.get("contents_past_from_ms", alarm.facts.get("past_from_ms"))
    return None if forecast is None else int(forecast)


def _ask_at_sunset(judge: Judge, duty: tuple[str, ...], now_ms: int) -> None:
    """Say once an evening that nobody is on duty, where the farm has a duty at all."""
    farm, ledger = judge.farm, judge.ledger
    if duty or not notices.uses_duty(farm, ledger.duty_lines()):
        return
    day = solar_day(now_ms, farm.longitude)
    set_ms = sun_times(day, farm.latitude, farm.longitude).set_ms
    late = timedelta(hours=6) // timedelta(milliseconds=1)
    if set_ms is None or not set_ms <= now_ms < set_ms + late:
        return
    if ledger.get(_SUNSET) == day.isoformat():
        return
    letter = Letter(
        None, NoticeKind.TOLD, Priority.MEDIUM, NOBODY,
        Phrase("{nobody}: an alarm would ring everyone. Whoever has it says so on the "
"first page, or: cormwatch alarm duty --take NAME --by NAME", nobody=NOBODY),
    )  # fmt: skip
    rows = notices.address(letter, farm.people, farm.notices, now_ms)
    ledger.add_notices(rows, now_ms, note=(_SUNSET, day.isoformat()))
