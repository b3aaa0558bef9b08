"""An alarm as the pages show it: what it says, what to do first, who has seen it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Final, NamedTuple

from monitor.alarms import ASIDE, Rationale, happened, rationale, say_aside
from monitor.alarms.cost import COST
from monitor.alarms.saying import say_day, say_span
from monitor.alarms.told import text_of, title_of
from monitor.alarms.wording import FIRST_LOOK
from monitor.days import WEEKDAYS
from monitor.model import Alarm, AlarmKind, AlarmState, Grade, PlaceState, Priority, Quantity
from monitor.phrase import Phrase
from monitor.speaking import said
from monitor.web.look import Look, by_standing
from monitor.web.words import ALARM_STATES, GRADES

_WAYS: Final = {
    AlarmKind.TOO_WARM: "up", AlarmKind.TOO_DRY: "up",
    AlarmKind.TOO_COLD: "down", AlarmKind.TOO_WET: "down",
}  # fmt: skip
_OPEN: Final = (AlarmState.UNACKNOWLEDGED, AlarmState.RETURNED_UNACKNOWLEDGED)
_CAN_QUIET: Final = (*_OPEN, AlarmState.ACKNOWLEDGED)
_OVER: Final = (AlarmState.NORMAL, AlarmState.RETURNED_UNACKNOWLEDGED)
_JUDGED: Final = {True: Phrase("You said: needless."), False: Phrase("You said: real.")}
_PRIORITIES: Final = tuple(Priority)
_NAMES_AT_MOST: Final = 4
_FRESH_MS: Final = 300_000
_OLD_MS: Final = 1_800_000
"""A text told longer ago than this is shown with the time it was told at. [ms]"""


@dataclass(frozen=True, slots=True)
class Box:
    """One alarm, ready to be written down; ``way`` is "up", "down" or "".

    ``told`` says when an older text was told; ``happened`` what was wrong.
    """

    id: int
    title: str
    told: str
    text: str
    happened: str
    first: str
    way: str
    state: str
    over: bool
    when: str
    seen: str
    now: str
    place: str | None
    can_acknowledge: bool
    why: Rationale
    aside: str
    can_quiet: bool
    judged: str
    reckoned: str = ""  # what the cost of its return rests on


def boxes(look: Look, alarms: list[Alarm], needless: Mapping[int, bool] | None = None) -> list[Box]:
    """Return alarms as boxes, what nobody has seen and what matters most first.

    ``needless`` tells of some what was thought of them when they were over.
    """
    ranked = sorted(
        alarms,
        key=lambda each: (
            each.state is not AlarmState.UNACKNOWLEDGED,
            _PRIORITIES.index(each.priority),
            -each.raised_ms,
        ),
    )
    return [box(look, each, (needless or {}).get(each.id)) for each in ranked]


def box(look: Look, alarm: Alarm, needless: bool | None = None) -> Box:
    """Return one alarm as a box; ``needless`` is None where nobody has said."""
    title, text = said(title_of(alarm)), said(text_of(alarm))
    text, mark, first = text.partition(said(FIRST_LOOK))
    over, told = alarm.state in _OVER, _told(look, alarm)
    shown = not over or (bool(told) and alarm.state is not AlarmState.NORMAL)
    return Box(
        id=alarm.id, title=title, told=told, text=_without(title, text.strip()),
        happened=happened(alarm, look.wording),
        first=f"{mark} {first.strip()}" if mark else "", way=_WAYS.get(alarm.key.kind, ""),
        state=alarm.state.value, over=over, when=_when(look, alarm), seen=_seen(look, alarm),
        now=_now(look, alarm) if shown else "",
        place=alarm.place if alarm.place in look.farm.places else None,
        can_acknowledge=alarm.state in _OPEN, why=rationale(alarm.key.kind, look.farm.units),
        aside=say_aside(alarm, look.wording, look.now_ms) if alarm.state in ASIDE else "",
        can_quiet=alarm.state in _CAN_QUIET,
        judged="" if needless is None else _JUDGED[needless], reckoned=_reckoned(look, alarm),
    )  # fmt: skip


def _reckoned(look: Look, alarm: Alarm) -> str:
    """Return by which rate, from where and how well founded, a cost was reckoned."""
    cost = alarm.facts.get(COST)
    if cost is None or "grade" not in cost:
        return ""
    grade = GRADES[Grade(cost["grade"])]
    return Phrase(
        "Stems age {q10:g} times as fast 10 °C (18 °F) warmer, measured up to {until}: {source}; "
        "{grade}.",
        q10=cost["q10"], until=look.figure(cost["q10_until_c"], Quantity.TEMPERATURE),
        source=cost["source"],
        grade=Phrase("{grade}, for other flowers", grade=grade) if cost["borrowed"] else grade,
    )  # fmt: skip


class Sorted(NamedTuple):
    """Alarms by how loudly they stand: as boxes, or as a quiet line each."""

    open: list[Box]
    aside: list[Box]
    expected: list[Box]


def sorted_out(alarms: Iterable[Box]) -> Sorted:
    """Return those that are to stand as boxes, those put aside, those only expected."""
    found = Sorted([], [], [])
    for each in alarms:
        if each.state == AlarmState.SUPPRESSED.value:
            found.expected.append(each)
        else:
            (found.aside if each.aside else found.open).append(each)
    return found


def names(look: Look) -> list[str]:
    """Return whom to offer as having seen an alarm: few enough for a button each, else none."""
    found = [each.name for each in look.farm.people.values()]
    return found if len(found) <= _NAMES_AT_MOST else []


def _without(title: str, text: str) -> str:
    """Leave out what the title has just said."""
    rest = text.removeprefix(title)
    return rest.removeprefix(".").strip() if rest.startswith(".") else text


def _told(look: Look, alarm: Alarm) -> str:
    """Return ``"As told at Tuesday 23:47:"`` of a text that may be stale, else nothing."""
    told_ms = alarm.raised_ms if alarm.returned_ms is None else alarm.returned_ms
    if look.now_ms - told_ms <= _OLD_MS:
        return ""
    when = look.time(told_ms)
    if say_day(told_ms, look.farm.zone, look.now_ms) == "yesterday":
        at = datetime.fromtimestamp(told_ms / 1000, look.farm.zone)
        when = Phrase("{day} {clock}", day=WEEKDAYS[at.weekday()], clock=f"{at:%H:%M}")
    return Phrase("As told at {when}:", when=when)


def _when(look: Look, alarm: Alarm) -> str:
    """Return from when to when, as the text of the return counts it: to the crossing back."""
    if alarm.returned_ms is None:
        return look.lasting(alarm.began_ms)
    back_ms = int(alarm.facts.get("back_ms", alarm.returned_ms))
    span = say_span(max(0.0, (back_ms - alarm.began_ms) / 1000))
    begun, back = look.time(alarm.began_ms), look.time(back_ms)
    if _day(begun) == _day(back):
        back = back.removeprefix(_day(begun)).strip()
    return Phrase("{begun} to {back}, for {span}", begun=begun, back=back, span=span)


def _day(said: str) -> str:
    """Return the day of a time as it is said; nothing today."""
    return said.rpartition(" ")[0]


def _seen(look: Look, alarm: Alarm) -> str:
    if alarm.acknowledged_ms is not None and alarm.state not in ASIDE:
        when = look.time(alarm.acknowledged_ms)
        return Phrase(
            "seen by {person} {when}" if _day(when) else "seen by {person} at {when}",
            person=alarm.acknowledged_by, when=when,
        )  # fmt: skip
    return say_aside(alarm, look.wording, look.now_ms) or ALARM_STATES[alarm.state]


def _now(look: Look, alarm: Alarm) -> str:
    """Return the figure of this moment, as the text tells that of the raising."""
    quantity = alarm.quantity
    if alarm.key.kind is AlarmKind.SENSOR_SILENT:
        quantity = Quantity.TEMPERATURE
    if quantity is None or alarm.place is None:
        return ""
    for each in by_standing(look.status(alarm.place).channels):
        if each.channel.quantity is not quantity or each.value is None:
            continue
        name = look.quantity(quantity, alarm.place).lower()
        figure = Phrase("{name} {figure}", name=name, figure=look.figure(each.value, quantity))
        late = each.at_ms is not None and look.now_ms - each.at_ms > _FRESH_MS
        figure = (
            Phrase("{figure}, {ago}", figure=figure, ago=look.ago(each.at_ms or 0))
            if late
            else figure
        )
        known = each.state is not PlaceState.UNKNOWN
        return (
            Phrase("Now: {figure}", figure=figure)
            if known
            else Phrase("Now: not known (last {figure})", figure=figure)
        )
    return Phrase("Now: not known")
