"""Saying that an alarm was seen: by a form without a script, and by JSON."""

import asyncio

import pytest

from monitor.alarms import on_transition, wording
from monitor.model import AlarmState, Edge, Transition
from tests.web.desk import SmallDesk
from tests.web.signing import HERE, SITE
from tests.web.visiting import Visitor


def test_a_form_without_a_script_acknowledges(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """A button carries the name; the answer leads back to the page, which says who has seen it."""
    form = {"form_key": own_visitor.key(), "by": "Wren", "back": "/places/walk-in-cooler"}
    answer = own_visitor.post("/alarms/1/acknowledge", data=form)
    assert answer.status_code == 303
    assert answer.headers["location"] == "/places/walk-in-cooler#alarm-1"
    assert own_desk.ledger.alarm(1).state is AlarmState.ACKNOWLEDGED
    page = own_visitor.get("/").text
    assert "seen by Wren at 12:00" in page
    assert "Wren has seen it" not in page


def test_a_missing_or_old_key_does_nothing(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """Without this run's key nothing is done, and the page says to press once more."""
    for key in ({}, {"form_key": "x" * 24}, {"form_key": "é"}):
        answer = own_visitor.post("/alarms/1/acknowledge", data={"by": "Wren"} | key)
        assert answer.status_code == 403
        assert "press once more" in answer.text
    assert own_desk.ledger.alarm(1).state is AlarmState.UNACKNOWLEDGED


@pytest.mark.parametrize("by", ["", "   ", "x" * 301])
def test_a_name_is_needed(own_desk: SmallDesk, own_visitor: Visitor, by: str) -> None:
    """A name is one to three hundred characters long, as in people.toml and the ledger."""
    form = {"form_key": own_visitor.key(), "by": by}
    assert own_visitor.post("/alarms/1/acknowledge", data=form).status_code == 422
    assert own_desk.ledger.alarm(1).state is AlarmState.UNACKNOWLEDGED


@pytest.mark.parametrize("back", ["//elsewhere.example/", "https://elsewhere.example", "/\\x", "a"])
def test_the_way_back_stays_with_us(own_visitor: Visitor, back: str) -> None:
    """A form cannot be made to lead to another host."""
    form = {"form_key": own_visitor.key(), "by": "Wren", "back": back}
    answer = own_visitor.post("/alarms/1/acknowledge", data=form)
    assert answer.headers["location"] == "/#alarm-1"


def test_json_acknowledges(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """A program sends a name as JSON and is told what became of it."""
    answer = own_visitor.post("/api/alarms/1/acknowledge", json={"by": "Robin"})
    assert answer.json() == {"said": "alarm 1 is acknowledged by Robin"}
    assert own_desk.ledger.alarm(1).acknowledged_by == "Robin"


def test_json_must_be_called_json(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """A body that a foreign form could send, plain text, is not taken for JSON."""
    answer = own_visitor.post(
        "/api/alarms/1/acknowledge", content='{"by": "Mallory"}',
        headers={"content-type": "text/plain"},
    )  # fmt: skip
    assert answer.status_code == 422
    assert own_desk.ledger.alarm(1).state is AlarmState.UNACKNOWLEDGED


def test_an_unknown_alarm_is_a_404(own_visitor: Visitor) -> None:
    """Both ways say that there is no such alarm."""
    form = {"form_key": own_visitor.key(), "by": "Wren"}
    assert own_visitor.post("/alarms/77/acknowledge", data=form).status_code == 404
    answer = own_visitor.post("/api/alarms/77/acknowledge", json={"by": "Wren"})
    assert answer.status_code == 404
    assert "there is no alarm 77" in answer.json()["detail"]


def _badge(visitor: Visitor) -> str:
    link = visitor.get("/help").text.partition('<a href="/alarms"')[2].partition("</a>")[0]
    return link.partition('class="')[2]


def test_only_what_nobody_has_seen_stands_out(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """The count beside Alarms is strong for what is open and unseen, else mild."""
    (alarm,) = own_desk.ledger.alarms(open_only=True)
    assert _badge(own_visitor).startswith('count" ')
    assert _badge(own_visitor).endswith(">1</b>")
    own_desk.acknowledge(alarm.id, "Wren")
    assert _badge(own_visitor).startswith('count mild" ')
    assert _badge(own_visitor).endswith(">1</span>")


def test_what_came_back_unseen_does_not_stand_out(
    own_desk: SmallDesk, own_visitor: Visitor
) -> None:
    """An alarm that is over is no longer counted in the strong style."""
    (alarm,) = own_desk.ledger.alarms(open_only=True)
    back = Transition(
        key=alarm.key, edge=Edge.RETURN, at_ms=own_desk.now, began_ms=alarm.began_ms,
        priority=alarm.priority, place=alarm.place, quantity=alarm.quantity,
    )  # fmt: skip
    decide = on_transition(back, wording(own_desk.farm()), own_desk.now)
    own_desk.ledger.transact(alarm.key, decide, own_desk.now)
    assert own_desk.ledger.alarm(alarm.id).state is AlarmState.RETURNED_UNACKNOWLEDGED
    assert _badge(own_visitor).startswith('count mild" ')


def test_a_form_keeps_an_alarm_quiet_and_ends_it(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """Hours, a reason and a name keep it quiet, the page says so, and a button ends it."""
    form = {"form_key": own_visitor.key(), "by": "Wren", "back": "/alarms"}
    asked = form | {"hours": "2", "why": "loading the cooler"}
    assert own_visitor.post("/alarms/1/quiet", data=asked).status_code == 303
    assert own_desk.ledger.alarm(1).state is AlarmState.SHELVED
    page = own_visitor.get("/alarms").text
    assert "quiet until 14:00 (Wren: loading the cooler)" in page
    assert "Keep it quiet" not in page
    assert own_visitor.post("/alarms/1/unquiet", data=form).status_code == 303
    assert own_desk.ledger.alarm(1).state is AlarmState.ACKNOWLEDGED


@pytest.mark.parametrize("wrong", [{"hours": "25"}, {"why": " "}, {"by": ""}, {"hours": "0"}])
def test_quiet_needs_hours_a_reason_and_a_name(
    own_desk: SmallDesk, own_visitor: Visitor, wrong: dict[str, str]
) -> None:
    """No reason, no name, or more than a day: nothing is done."""
    form = {"form_key": own_visitor.key(), "by": "Wren", "hours": "2", "why": "loading"}
    assert own_visitor.post("/alarms/1/quiet", data=form | wrong).status_code == 422
    assert own_visitor.post("/alarms/1/quiet", data=form | {"form_key": ""}).status_code == 403
    assert own_desk.ledger.alarm(1).state is AlarmState.UNACKNOWLEDGED


def test_many_who_have_seen_it_at_once_are_one(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """Of twenty acknowledgements at the same moment one stands, in the name of one person."""
    app, key = own_visitor.app, own_visitor.key()

    async def together() -> list[int]:
        import httpx  # noqa: PLC0415 - here alone

        door = httpx.ASGITransport(app=app, client=(HERE, 1))
        async with httpx.AsyncClient(transport=door, base_url=SITE) as client:
            sent = [
                client.post(
                    "/alarms/1/acknowledge", data={"form_key": key, "by": f"Picker {number}"},
                    headers={"origin": SITE},
                )
                for number in range(20)
            ]  # fmt: skip
            return [each.status_code for each in await asyncio.gather(*sent)]

    assert {each < 500 for each in asyncio.run(together())} == {True}
    alarm = own_desk.ledger.alarm(1)
    assert alarm.state is AlarmState.ACKNOWLEDGED
    lines = [each for each in own_desk.ledger.audit(1) if each.after is AlarmState.ACKNOWLEDGED]
    assert [each.by for each in lines] == [alarm.acknowledged_by]
