"""Who is rung first, and who next."""

from dataclasses import replace

from pydantic import SecretStr

from monitor.alarms import on_transition, remind, wording
from monitor.farm import Duty, Farm, Person
from monitor.model import Alarm, DutyLine, Notice, NoticeKind, Priority
from monitor.notices import answer, first_told, next_told, on_duty, plan
from tests.alarms.test_machine import RAISE
from tests.watch.made import HOUR_MS, MINUTE_MS, START_MS, farm

DAY_MS = 24 * HOUR_MS
ADDRESS = (SecretStr("json://one"),)
PEOPLE = {
    "ida": Person("ida", "Ida", ADDRESS), "mute": Person("mute", "Mute"),
    "max": Person("max", "Max", ADDRESS), "zoe": Person("zoe", "Zoe", ADDRESS),
}  # fmt: skip
FARM = replace(farm(), people=PEOPLE)


def _alarm(of: Farm = FARM) -> Alarm:
    raised = on_transition(replace(RAISE, priority=Priority.HIGH), wording(of), START_MS)(None)
    assert raised is not None
    return replace(raised.alarm, id=12)


def _ring(to: tuple[str, ...], at_ms: int) -> tuple[Notice, ...]:
    rows = plan(
        _alarm(), NoticeKind.RAISED, PEOPLE, FARM.notices, FARM.zone, START_MS, to=to
    )  # fmt: skip
    return tuple(replace(each, created_ms=at_ms) for each in rows)


def test_what_was_taken_counts_before_the_files() -> None:
    """Whoever said "I've got it" last has it, until it ends; then the files say who."""
    of = replace(FARM, duty=(Duty("ida"),))
    taken = [
        DutyLine(START_MS, START_MS + HOUR_MS, each, START_MS, each) for each in ("zoe", "max")
    ]
    assert on_duty(of, taken, START_MS) == ("max",)
    assert on_duty(of, taken, START_MS + HOUR_MS) == ("ida",)
    assert on_duty(FARM, taken, START_MS + HOUR_MS) == ()


def test_duty_first_and_everyone_where_nobody_has_it() -> None:
    """Whoever is on duty is rung alone; nobody on duty, or no address, rings everyone."""
    assert first_told(FARM, Priority.HIGH, ("max",)) == ("max",)
    assert first_told(FARM, Priority.HIGH, ()) is None
    assert first_told(FARM, Priority.HIGH, ("mute",)) is None
    alone = replace(FARM, people={"ida": PEOPLE["ida"]})
    assert first_told(alone, Priority.HIGH, ("ida",)) is None


def test_the_next_person_and_then_everyone() -> None:
    """Unanswered for escalate_after, the next with an address is rung, and then everyone."""
    wait_ms = round(FARM.notices.escalate_after_s * 1000)
    rung = _ring(("max",), START_MS)
    assert next_told(FARM, _alarm(), rung, START_MS + wait_ms - 1) is None
    assert next_told(FARM, _alarm(), rung, START_MS + wait_ms) == ("ida",)
    rung += _ring(("ida",), START_MS + wait_ms)
    assert next_told(FARM, _alarm(), rung, START_MS + wait_ms + MINUTE_MS) is None
    assert next_told(FARM, _alarm(), rung, START_MS + 2 * wait_ms) == ("ida", "max", "zoe")
    rung += _ring(("ida", "max", "zoe"), START_MS + 2 * wait_ms)
    assert next_told(FARM, _alarm(), rung, START_MS + 9 * wait_ms) is None


def test_a_clock_set_back_by_a_day_rings_the_next_at_once() -> None:
    """A call that lies ahead does not hold up the next one for a day."""
    rung = _ring(("max",), START_MS)
    assert next_told(FARM, _alarm(), rung, START_MS - DAY_MS) == ("ida",)


def test_a_call_written_as_the_look_goes_on_rings_nobody_else() -> None:
    """A notice that was written some milliseconds after the look began has just been sent."""
    rung = _ring(("max",), START_MS + 40)
    assert next_told(FARM, _alarm(), rung, START_MS) is None


def test_only_those_named_are_rung() -> None:
    """A decision's notices go to those named alone."""
    decide = answer(
        remind(START_MS), PEOPLE, FARM.notices, FARM.zone, START_MS, to=("zoe",)
    )  # fmt: skip
    decision = decide(_alarm())
    assert decision is not None
    assert [each.person for each in decision.notices] == ["zoe"]
