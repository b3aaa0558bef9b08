"""One alarm's own page, what is put aside, and what is only expected."""

import re
from dataclasses import replace
from functools import partial

import pytest

from monitor.alarms import Quiet, on_transition, rationale, wording
from monitor.alarms.cost import COST
from monitor.farm import load
from monitor.model import (
    Alarm,
    AlarmKey,
    AlarmKind,
    AlarmState,
    Decision,
    Edge,
    Grade,
    Notice,
    NoticeKind,
    Priority,
    Transition,
)
from monitor.units import TemperatureUnit
from monitor.watch.usual import WHY
from tests.web.desk import HOUR_MS, NOW_MS, SmallDesk
from tests.web.visiting import Visitor


def test_an_alarms_page_tells_each_step_and_why(own_visitor: Visitor) -> None:
    """Who did what, and cause, response, limit and delays stand on the alarm's own page."""
    own_visitor.post("/api/alarms/1/acknowledge", json={"by": "Wren"})
    said = own_visitor.post("/api/alarms/1/quiet", json={"by": "Wren", "why": "seal", "hours": 2})
    assert said.status_code == 200
    page = own_visitor.get("/alarms/1").text
    assert "acknowledged" not in page
    assert "Wren" in page.partition('id="steps"')[2]
    for heading in ("Behind it", "What to do", "Told when", "How soon"):
        assert heading in page
    assert own_visitor.get("/alarms/99").status_code == 404


def test_quiet_by_the_interface_ends_by_it(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """Put aside and taken back by JSON; a day and an hour is refused."""
    asked = {"by": "Wren", "why": "seal", "hours": 2}
    assert own_visitor.post("/api/alarms/1/quiet", json=asked | {"hours": 25}).status_code == 422
    own_visitor.post("/api/alarms/1/quiet", json=asked)
    assert own_desk.ledger.alarm(1).state is AlarmState.SHELVED
    assert "<h2>Put aside</h2>" in own_visitor.get("/alarms").text
    own_visitor.post("/api/alarms/1/unquiet", json={"by": "Wren"})
    assert own_desk.ledger.alarm(1).state is AlarmState.ACKNOWLEDGED


def test_quiet_for_once_ends_with_the_alarm(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """Ticked, it is quiet until it is over once (one-shot, IEC 62682); else until its hour."""
    page = own_visitor.get("/alarms/1").text
    assert 'name="once" value="true"' in page
    form = {"form_key": own_visitor.key(), "by": "Wren", "why": "seal", "hours": "2"}
    for once, said in (("", False), ("true", True)):
        sent = form | ({"once": once} if once else {})
        assert own_visitor.post("/alarms/1/quiet", data=sent).status_code == 303
        alarm = own_desk.ledger.alarm(1)
        assert (alarm.state, alarm.once) == (AlarmState.SHELVED, said)
        assert ("or until it is over once" in own_visitor.get("/alarms/1").text) is said
        own_visitor.post("/api/alarms/1/unquiet", json={"by": "Wren"})


@pytest.mark.parametrize(
    ("grade", "borrowed", "said"),
    [
        (Grade.PUBLISHED, True, "borrowed from other flowers; published, for other flowers."),
        (Grade.FARM, False, "borrowed from other flowers; the farm&#39;s own setting."),
    ],
)
def test_a_cost_says_what_it_rests_on(
    own_desk: SmallDesk, own_visitor: Visitor, grade: Grade, borrowed: bool, said: str
) -> None:
    """The alarm's page names the rate, how far it was measured, its source and its grade."""
    cost = {
        "extra_s": 9000.0, "q10": 3.0, "q10_until_c": 10.0, "source": "borrowed from other flowers",
        "grade": grade.value, "borrowed": borrowed,
    }  # fmt: skip
    assert 'id="reckoned"' not in own_visitor.get("/alarms/1").text
    alarm = own_desk.ledger.alarm(1)
    told = replace(alarm, facts={**alarm.facts, COST: cost})
    own_desk.ledger.transact_id(1, lambda _: Decision(told, (), ()), own_desk.now)
    page = own_visitor.get("/alarms/1").text.partition('id="reckoned"')[2]
    assert "Stems age 3 times as fast" in page
    assert f"measured up to 50.0 °F: {said}" in page


def test_what_is_expected_is_a_line(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """A suppressed alarm stands on the first page as a line that names it, not as a box."""
    at_ms = own_desk.now
    raised = Transition(
        AlarmKey(AlarmKind.TOO_WET, "walk-in-cooler"), Edge.RAISE, at_ms, at_ms, Priority.MEDIUM,
        place="walk-in-cooler", value=99.0, limit=97.0, peak=99.0, expected="a defrost",
    )  # fmt: skip
    words = wording(own_desk.farm())
    own_desk.ledger.transact(raised.key, on_transition(raised, words, at_ms), at_ms)
    page = own_visitor.get("/").text
    assert page.count('<p class="quiet-line"') == 1
    assert ": expected, such as a defrost</span>" in page
    assert page.count('<section class="alert') == 1


def test_a_changed_limit_stands_on_the_page_of_alarms(
    own_desk: SmallDesk, own_visitor: Visitor
) -> None:
    """From what to what in the farm's units, and by whom; before a change nothing stands."""
    assert "Limits that were changed" not in own_visitor.get("/alarms").text
    folder = own_desk.folder
    for at_ms, high in ((own_desk.now - 1000, "42 F"), (own_desk.now, "43 F")):
        text = (folder / "farm.toml").read_text().replace('high = "42 F"', f'high = "{high}"')
        (folder / "farm.toml").write_text(text)
        farm = load(folder)
        own_desk.ledger.accept_configuration(farm.texts, farm.digest, at_ms, "Wren")
    page = own_visitor.get("/alarms").text
    assert "temperature harm above, from 42.0 °F to 43.0 °F (Wren)" in page


def test_what_is_put_aside_is_a_quiet_line(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """On the first page and the place's it is one line with its end, and no box is left."""
    own_desk.put_aside(1, Quiet("Wren", "the seal is mended", own_desk.now + 2 * HOUR_MS))
    for path in ("/", "/places/walk-in-cooler"):
        page = own_visitor.get(path).text
        assert '<section class="alert' not in page
        line = page.partition('<p class="quiet-line"')[2].partition("</p>")[0]
        assert ">Put aside: <a" in line
        assert ", quiet until 14:00 (Wren: the seal is mended)" in line
    assert "No other alarm is open." in own_visitor.get("/").text


def test_an_expected_line_is_a_whole_sentence(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """Until when it is expected stands before the reason, which no word is cut off from."""
    at_ms = own_desk.now
    raised = Transition(
        AlarmKey(AlarmKind.TOO_WET, "walk-in-cooler"), Edge.RAISE, at_ms, at_ms, Priority.MEDIUM,
        place="walk-in-cooler", value=99.0, limit=97.0, peak=99.0, expected=WHY,
        facts={"expected_until_ms": at_ms + HOUR_MS},
    )  # fmt: skip
    decide = on_transition(raised, wording(own_desk.farm()), at_ms)
    own_desk.ledger.transact(raised.key, decide, at_ms)
    said = f'</a><span class="soft">: expected until 13:00: {WHY}</span>'
    assert said in own_visitor.get("/").text


@pytest.mark.parametrize(
    ("unit", "said"),
    [(TemperatureUnit.FAHRENHEIT, "about 30 °F:"), (TemperatureUnit.CELSIUS, "about -1 °C:")],
)
def test_the_reasons_speak_the_farms_unit(unit: TemperatureUnit, said: str) -> None:
    """Where flowers freeze is told in the farm's unit (-1 °C is 30.2 °F by definition)."""
    assert said in rationale(AlarmKind.TOO_COLD, unit).consequence


def test_the_page_of_alarms_tells_how_many_a_week(
    own_desk: SmallDesk, own_visitor: Visitor
) -> None:
    """One row a week with its bar; an alarm sent at night and said to be needless stands so."""
    night_ms = own_desk.now - 13 * HOUR_MS  # 23:00 by the farm
    told = Notice(0, 1, NoticeKind.RAISED, "wren", "1", "", "", night_ms, night_ms)
    (row,) = own_desk.ledger.add_notices([told])
    own_desk.ledger.record_attempt(row.id, night_ms, sent=True)
    own_desk.ledger.score(1, needless=True, by="Wren", now_ms=own_desk.now)
    table = own_visitor.get("/alarms").text.partition('id="weeks"')[2].partition("</table>")[0]
    (line,) = re.findall(r"<tr><th scope=\"row\">(.*?)</tr>", table)
    assert line.startswith("this week</th>")
    assert re.findall(r"<td class=\"figure\">(\d+)", line) == ["1", "1", "1"]
    assert line.count('<path class="night"') == 1


def test_the_page_of_a_past_alarm_asks_whether_it_was_real(
    own_desk: SmallDesk, own_visitor: Visitor
) -> None:
    """Once it is over a form takes the answer, and both pages show it; an open one is not asked."""
    assert "Was it real" not in own_visitor.get("/alarms/1").text
    alarm = own_desk.ledger.alarm(1)
    back = Transition(
        alarm.key, Edge.RETURN, own_desk.now, alarm.began_ms, alarm.priority, place=alarm.place,
        quantity=alarm.quantity, facts={"out_s": 4200.0},
    )  # fmt: skip
    decide = on_transition(back, wording(own_desk.farm()), own_desk.now)
    own_desk.ledger.transact(alarm.key, decide, own_desk.now)
    own_desk.acknowledge(1, "Wren")
    assert "Was it real, or needless?" in own_visitor.get("/alarms/1").text
    form = {"form_key": own_visitor.key_of("/alarms/1"), "by": "Wren", "verdict": "needless"}
    assert own_visitor.post("/alarms/1/score", data=form | {"form_key": ""}).status_code == 403
    assert own_visitor.post("/alarms/1/score", data=form | {"verdict": "odd"}).status_code == 422
    assert own_desk.ledger.scores() == {}
    assert own_visitor.post("/alarms/1/score", data=form).status_code == 303
    assert own_desk.ledger.scores() == {1: True}
    assert "You said: needless." in own_visitor.get("/alarms/1").text
    past = own_visitor.get("/alarms").text.partition("<h2>Past</h2>")[2]
    assert "Walk-in cooler was too warm" in past
    assert "Out for 1 h 10 min" in past
    assert "Seen by Wren at 12:00. You said: needless." in past


def _same(made: Decision, _: Alarm | None) -> Decision:
    return made


def test_what_is_expected_is_folded_where_it_is_much(
    own_desk: SmallDesk, own_visitor: Visitor
) -> None:
    """A gateway's hundred sensors are one line that opens, and the alarm that burns stays above."""
    burning = own_desk.ledger.alarm(1)

    def expect(numbers: range) -> str:
        for number in numbers:
            key = AlarmKey(AlarmKind.SENSOR_SILENT, f"sensor-{number}")
            made = Decision(replace(burning, id=0, key=key, state=AlarmState.SUPPRESSED), ())
            own_desk.ledger.transact(key, partial(_same, made), NOW_MS)
        return own_visitor.get("/").text

    assert 'id="expected"' not in expect(range(6))
    page = expect(range(6, 300))
    fold = page.partition('<details class="why" id="expected">')[2].partition("</details>")[0]
    assert "300 more are expected" in fold
    assert fold.count('class="quiet-line"') == 300
    assert page.index('id="alarm-1"') < page.index('id="expected"')
