"""What is done now and then: reminders, and the morning message by the farm's clock."""

from datetime import date, timedelta
from typing import Final

from monitor import alarms, notices, watch
from monitor.alarms.saying import say_value
from monitor.daemon import backing, digesting, ringing
from monitor.daemon.judge import Judge
from monitor.daemon.restoring import judged, specs
from monitor.model import Alarm, AlarmKind, Channel, Notice, PlaceState, Priority
from monitor.notices import Morning
from monitor.phrase import Phrase
from monitor.store import ReadingReader

_MORNING: Final = "morning_day"
_BEFORE_MS: Final = 3_600_000
_SILENCES: Final = (AlarmKind.SENSOR_SILENT, AlarmKind.SENSORS_DARK)
UNHEARD_MS: Final = 15 * 60_000
_HIGH: Final = (AlarmKind.TOO_WARM, AlarmKind.TOO_WET)


def do(judge: Judge, reader: ReadingReader, now_ms: int) -> None:
    """Write the reminders and the morning message that are due."""
    remind(judge, now_ms)
    ringing.do(judge, now_ms)
    mind_notices(judge, now_ms)
    digesting.do(judge, reader, now_ms)
    rules, zone = judge.farm.notices, judge.farm.zone
    last = _last_morning(judge)
    day = notices.morning_due(last, now_ms, rules, zone)
    if last is None:  # the first start: there is no yesterday to tell of
        today = notices.local_day(now_ms, zone)
        judge.ledger.put(_MORNING, (day or today - timedelta(days=1)).isoformat())
        return
    if day is not None:
        tell_morning(judge, reader, day, now_ms)


def put_off_silences(judge: Judge, now_ms: int) -> None:
    """Tell nothing of what was silent while we were off before it could be heard again.

    Called at a start: a message that waits goes out by the sensor's own time, at the earliest.
    """
    sensors = judge.farm.sensors
    for alarm in judge.ledger.alarms(open_only=True):
        names = alarm.facts.get("sensors", [alarm.key.subject])
        if alarm.key.kind not in _SILENCES:
            continue
        waits_s = [sensors[each].silent_after_s for each in names if each in sensors]
        if waits_s:
            judge.ledger.put_off(alarm.id, now_ms + round(max(waits_s) * 1000))


def follow_clock(judge: Judge, now_ms: int, by_ms: int) -> None:
    """Let what waits to be told wait no longer for a clock that was set back. [ms]"""

    def moved(notice: Notice) -> int:
        rules, zone = judge.farm.notices, judge.farm.zone
        due_ms = max(notice.due_ms + by_ms, now_ms)
        return notices.due_ms(Priority(notice.priority), rules, zone, due_ms) or due_ms

    if by_ms < 0:
        judge.ledger.move_due(now_ms, moved)


def mind_notices(judge: Judge, now_ms: int) -> None:
    """Raise, or end, that no message gets through to anybody."""
    since_ms = judge.ledger.failing_since()
    bad = since_ms is not None and now_ms - since_ms >= UNHEARD_MS
    judge.own(AlarmKind.NOTICES_FAILED, now_ms, bad=bad)


def remind(judge: Judge, now_ms: int) -> None:
    """Write a reminder for each alarm that nobody has acknowledged for long enough."""
    ledger, farm = judge.ledger, judge.farm
    open_alarms = ledger.alarms(open_only=True)
    sent: list[Notice] = [each for one in open_alarms for each in ledger.notices_of(one.id)]
    for alarm in notices.due_reminders(open_alarms, sent, farm.notices, now_ms):
        decide = notices.answer(
            alarms.remind(now_ms), farm.people, farm.notices, farm.zone, now_ms,
            note=stands(judge, alarm, now_ms),
        )  # fmt: skip
        ledger.transact_id(alarm.id, decide, now_ms)


def stands(judge: Judge, alarm: Alarm, now_ms: int) -> str:
    """Return how it stands now where an alarm is of a figure; the worst of several sensors."""
    place = alarm.place
    if alarm.quantity is None or place is None or place not in judge.state.plan.places:
        return ""
    status = watch.place_status(judge.state, place, now_ms)
    values = [
        each.value
        for each in status.channels
        if each.channel.quantity is alarm.quantity and each.value is not None
        and each.state is not PlaceState.UNKNOWN
    ]  # fmt: skip
    if not values:
        return Phrase("How it stands now is not known.")
    worst = max if alarm.key.kind in _HIGH else min
    return Phrase(
        "Now it is {value}.", value=say_value(worst(values), alarm.quantity, judge.farm.units)
    )


def tell_morning(judge: Judge, reader: ReadingReader, day: date, now_ms: int) -> None:
    """Write one morning's message, and that it was told: what drifted, is due, is open."""
    farm, plan = judge.farm, judge.state.plan
    yesterday = day - timedelta(days=1)
    since_ms = notices.instant_ms(yesterday, farm.notices.morning_at, farm.zone)
    morning = Morning(
        drifts=watch.drifts(plan, _packs(judge, reader, since_ms), since_ms, now_ms),
        dues=watch.due_work(plan, now_ms),
        alarms=judge.ledger.alarms(open_only=True),
        notes=digesting.note_drills(judge, now_ms),
        troubles=backing.troubles(
            farm, backing.standing_of(judge.ledger.get(backing.KEY)), judge.words, now_ms
        ),
    )
    rows = notices.morning_message(morning, judge.words, farm.people, farm.notices, now_ms)
    judge.ledger.add_notices(rows, now_ms, note=(_MORNING, day.isoformat()))


def _packs(judge: Judge, reader: ReadingReader, since_ms: int) -> dict[Channel, watch.Samples]:
    found = {}
    for channel, spec in specs(judge.farm).items():
        hung_ms = judge.state.posted.get(channel.sensor, 0)
        series = reader.series(channel, max(since_ms - _BEFORE_MS, hung_ms))
        if len(series.at_ms):
            found[channel] = judged(channel, spec, series)
    return found


def _last_morning(judge: Judge) -> date | None:
    text = judge.ledger.get(_MORNING)
    return date.fromisoformat(text) if isinstance(text, str) else None
