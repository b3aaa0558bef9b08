"""An entry that is sent again arrives once, and is dated by the farm's clock."""

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.web.app import create_app
from tests.web.desk import DAY_MS, HOUR_MS, NOW_MS, SmallDesk
from tests.web.recording import Recorder
from tests.web.visiting import Visitor

TOKEN = "made-on-a-phone-%04d"  # noqa: S105 - no secret


def item(number: int = 1, **more: Any) -> dict[str, Any]:  # noqa: ANN401 - JSON
    """Return an item of a phone's queue: a note on batch 1."""
    words = {"batch": "1", "note": f"note {number}"} | more.pop("words", {})
    return {"verb": "look", "token": TOKEN % number, "by": "Wren", "words": words} | more


def test_a_repeat_answers_as_the_first(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """The same item twice, the second time older, gives one entry and one answer."""
    before = len(own_desk.ledger.entries())
    first = own_visitor.post("/api/entries", json=item())
    again = own_visitor.post("/api/entries", json=item(age_ms=5000))
    assert first.status_code == 200
    assert again.json() == first.json() == {"page": f"/record/done/{TOKEN % 1}"}
    assert len(own_desk.ledger.entries()) == before + 1
    assert "note 1" in own_visitor.get(first.json()["page"]).text


def test_a_repeat_arrives_once_over_a_restart(own_desk: SmallDesk) -> None:
    """The ledger keeps the token: another run of the program knows it."""
    Visitor(create_app(own_desk)).post("/api/entries", json=item())
    count = len(own_desk.ledger.entries())
    own_desk.close()
    anew = SmallDesk(own_desk.folder)
    answer = Visitor(create_app(anew)).post("/api/entries", json=item(age_ms=DAY_MS))
    assert answer.status_code == 200
    assert len(anew.ledger.entries()) == count
    anew.close()


def test_a_form_pressed_twice_records_once(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """Two presses lead to the same page; the same form with other words is refused."""
    recorder = Recorder(own_visitor, own_desk)
    sent = {**recorder.hidden("/record/look?batch=1"), "by": "Wren", "note": "once"}
    first, again = (own_visitor.post("/record/look", data=sent) for _ in range(2))
    assert first.headers["location"] == again.headers["location"]
    before = len(own_desk.ledger.entries())
    other = own_visitor.post("/record/look", data=sent | {"note": "twice"})
    assert other.status_code == 422
    assert "recorded already" in other.text
    assert len(own_desk.ledger.entries()) == before


def test_an_item_is_dated_by_its_age(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """Written down three hours ago, it stands three hours before the farm's now."""
    own_visitor.post("/api/entries", json=item(age_ms=3 * HOUR_MS))
    assert own_desk.ledger.entries()[-1].at_ms == NOW_MS - 3 * HOUR_MS


@pytest.mark.parametrize("at", ["2 h ago", "2 H Ago ", "hace 2 h", "Hace 2 horas"])
def test_words_of_time_are_meant_when_they_were_written(
    own_desk: SmallDesk, own_visitor: Visitor, at: str
) -> None:
    """An item that says 2 h ago, and waited a day, is a day and two hours old."""
    answer = own_visitor.post("/api/entries", json=item(age_ms=DAY_MS, words={"at": at}))
    assert answer.status_code == 200
    assert own_desk.ledger.entries()[-1].at_ms == NOW_MS - DAY_MS - 2 * HOUR_MS


def test_a_clock_set_on_meanwhile_leaves_a_time_of_the_farm_alone(
    own_desk: SmallDesk, own_visitor: Visitor
) -> None:
    """An hour old by its page and a day by the phone: a typed time is believed."""
    told = item(age_ms=DAY_MS, seen_ms=NOW_MS - HOUR_MS, words={"at": "2026-11-25 11:30"})
    assert own_visitor.post("/api/entries", json=told).status_code == 200
    assert own_desk.ledger.entries()[-1].at_ms == NOW_MS - HOUR_MS // 2
    waited = item(2, age_ms=3 * HOUR_MS, seen_ms=NOW_MS - 4 * HOUR_MS)
    assert own_visitor.post("/api/entries", json=waited).status_code == 200
    assert own_desk.ledger.entries()[-1].at_ms == NOW_MS - 3 * HOUR_MS


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"age_ms": 400 * DAY_MS}, "has been here only since"),
        ({"age_ms": -DAY_MS}, "the phone's clock was changed"),
        ({"age_ms": DAY_MS, "seen_ms": NOW_MS - HOUR_MS}, "the phone's clock was changed"),
        (
            {"age_ms": DAY_MS, "seen_ms": NOW_MS - HOUR_MS, "words": {"at": "5 min ago"}},
            "the phone's clock was changed",
        ),
        (
            {"age_ms": DAY_MS, "seen_ms": NOW_MS - HOUR_MS, "words": {"at": "Hace 5 min"}},
            "the phone's clock was changed",
        ),
        ({"words": {"at": "2099-01-01"}}, "in the future"),
        ({"words": {"batch": "77"}}, "there is no batch 77"),
        ({"by": ""}, "nobody is named"),
    ],
)
def test_what_is_not_taken_says_why(
    own_desk: SmallDesk, own_visitor: Visitor, more: dict[str, Any], said: str
) -> None:
    """Too old, in the future, or of no batch: a sentence, and nothing is written."""
    before = len(own_desk.ledger.entries())
    answer = own_visitor.post("/api/entries", json=item(**more))
    assert answer.status_code == 422
    assert said in answer.json()["detail"]
    assert "--" not in answer.json()["detail"]
    assert len(own_desk.ledger.entries()) == before
    mended = own_visitor.post("/api/entries", json=item())
    assert mended.status_code == 200  # a refusal does not use up the token


@settings(max_examples=25)
@given(
    order=st.lists(st.integers(0, 4), max_size=14), restarts=st.sets(st.integers(0, 13), max_size=2)
)
def test_any_interleaving_yields_each_token_once(
    desk: SmallDesk, order: list[int], restarts: set[int]
) -> None:
    """However items are repeated and mixed, over restarts too, each is one entry."""
    before = len(desk.ledger.entries())
    app = create_app(desk)
    for step, number in enumerate(order):
        if step in restarts:
            app = create_app(desk)
        sent = item(100 * before + number, age_ms=step * 1000)
        assert Visitor(app).post("/api/entries", json=sent).status_code == 200
    written = [each.data["note"] for each in desk.ledger.entries()[before:]]
    assert sorted(written) == sorted(f"note {100 * before + each}" for each in set(order))
