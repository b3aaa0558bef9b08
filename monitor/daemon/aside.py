"""Putting an alarm aside and taking it back: by page, by command, and when its time is over."""

from dataclasses import dataclass, replace

from monitor import alarms, notices
from monitor.alarms import Decider, Quiet
from monitor.batches import Book, open_batches
from monitor.daemon.chores import stands
from monitor.daemon.judge import Judge
from monitor.farm import Farm
from monitor.model import Alarm, AlarmState, Decision, Notice, NoticeKind
from monitor.phrase import Phrase
from monitor.store import Ledger

_OVER = "It was kept quiet for a while, and still holds."


@dataclass(frozen=True)
class Desk:
    """The farm's ledger and what its words need, whether or not a daemon runs."""

    farm: Farm
    ledger: Ledger
    book: Book

    def put_aside(self, alarm_id: int, quiet: Quiet, now_ms: int) -> str:
        """Put an alarm aside and return what to say of it.

        Raises
        ------
        UnknownNameError
            If there is no such alarm.
        LedgerRuleError
            If the reason cannot be shown, the time is past or too long, or the alarm is over.
        """
        return self._done(alarm_id, quiet.decider(now_ms), now_ms)

    def take_back(self, alarm_id: int, decide: Decider, by: str, now_ms: int) -> str:
        """End an alarm's being put aside, by ``decide``, and return what to say of it.

        Whoever ends it has seen what still holds. Who has not heard of it yet, since it was
        raised while it was quiet, is told by the usual rules.

        Raises
        ------
        UnknownNameError
            If there is no such alarm.
        """
        told = self.ledger.notices_of(alarm_id)
        duty = notices.on_duty(self.farm, self.ledger.duty_lines(), now_ms)

        def tell(alarm: Alarm | None) -> Decision | None:
            decision = decide(alarm)
            if decision is None or decision.alarm.state is not AlarmState.ACKNOWLEDGED:
                return decision
            others = notices.not_told_yet(self.farm, decision.alarm, told, duty, by)
            rows = self._rows(decision.alarm, others, by, now_ms) if others else ()
            return replace(decision, notices=rows)

        return self._done(alarm_id, tell, now_ms)

    def _rows(self, alarm: Alarm, to: tuple[str, ...], by: str, now_ms: int) -> tuple[Notice, ...]:
        farm = self.farm
        return notices.plan(
            alarm, NoticeKind.RAISED, farm.people, farm.notices, farm.zone, now_ms,
            note=Phrase("It was kept quiet until now; {by} has seen it.", by=by), to=to,
        )  # fmt: skip

    def _done(self, alarm_id: int, decide: Decider, now_ms: int) -> str:
        farm, before = self.farm, list[Alarm]()
        answer = notices.answer(decide, farm.people, farm.notices, farm.zone, now_ms)

        def keep(alarm: Alarm | None) -> Decision | None:
            before.extend([alarm] if alarm else [])
            return answer(alarm)

        decided = self.ledger.transact_id(alarm_id, keep, now_ms)
        words = alarms.wording(farm, open_batches(self.book), self.book.holds)
        if decided is None:
            return alarms.aside_already(before[0], words, now_ms)
        after = decided.alarm
        said = alarms.say_aside(after, words, now_ms) or _AFRESH[after.state]
        return f"alarm {alarm_id} is {said}"


_AFRESH = {
    AlarmState.ACKNOWLEDGED: (
        "watched again: what is wrong still holds, and rings again if it does not get better"
    ),
    AlarmState.NORMAL: "no longer put aside, and over",
}


def end_what_is_over(judge: Judge, now_ms: int) -> bool:
    """End what was put aside for a time that is over; return whether anything was.

    Judged afresh in the ledger's own row: a return that was written just before counts.
    """
    ended = False
    farm = judge.farm
    for alarm in judge.ledger.alarms(open_only=True):
        if not alarms.expired(alarm, now_ms):
            continue
        note = f"{_OVER} {stands(judge, alarm, now_ms)}".rstrip()
        decide = notices.answer(
            alarms.expire(now_ms), farm.people, farm.notices, farm.zone, now_ms, note=note
        )  # fmt: skip
        ended |= judge.ledger.transact_id(alarm.id, decide, now_ms) is not None
    return ended
