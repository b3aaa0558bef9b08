"""The form on a cooler's page that says its warm air is expected."""

from monitor.batches.loading import USUAL_MS
from tests.web.desk import HOUR_MS, NOW_MS, SmallDesk
from tests.web.visiting import Visitor

COOLER = "/places/walk-in-cooler"


def _form(visitor: Visitor, **more: str) -> dict[str, str]:
    return {"form_key": visitor.key(), "by": "Wren", "back": COOLER} | more


def test_a_loading_is_begun_and_ended_by_a_form(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """One press begins an hour, the page says until when, the next press ends it."""
    assert "Wren is loading</button>" in own_visitor.get(COOLER).text
    answer = own_visitor.post(f"{COOLER}/loading", data=_form(own_visitor))
    assert (answer.status_code, answer.headers["location"]) == (303, f"{COOLER}#loading")
    (kept,) = own_desk.book().loadings
    assert (kept.place, kept.from_ms) == ("walk-in-cooler", NOW_MS)
    assert kept.until_ms == NOW_MS + USUAL_MS
    page = own_visitor.get(COOLER).text
    assert "Being loaded until 13:00." in page  # NOW is 12:00 by the farm
    assert "is loading</button>" not in page
    own_desk.now = NOW_MS + HOUR_MS // 4
    own_visitor.post(f"{COOLER}/loading", data=_form(own_visitor, end="true"))
    (ended,) = own_desk.book().loadings
    assert ended.until_ms == own_desk.now
    assert "Wren is loading</button>" in own_visitor.get(COOLER).text


def test_only_a_cooler_is_loaded(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """No other place has the form, and a post that asks for one is refused."""
    assert "/loading" not in own_visitor.get("/places/tunnel-2").text
    answer = own_visitor.post("/places/tunnel-2/loading", data=_form(own_visitor))
    assert answer.status_code == 422
    assert "Tunnel 2 is no cooler" in answer.text
    assert own_visitor.post("/places/cellar/loading", data=_form(own_visitor)).status_code == 404
    assert own_desk.book().loadings == ()


def test_a_loading_needs_the_key_and_a_name(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """A foreign or old form, and one without a name, write nothing."""
    for wrong, status in (({"form_key": "x" * 24}, 403), ({"by": " "}, 422)):
        answer = own_visitor.post(f"{COOLER}/loading", data=_form(own_visitor, **wrong))
        assert answer.status_code == status
    assert own_desk.book().loadings == ()


def test_loading_after_loading_is_refused_in_words(own_visitor: Visitor) -> None:
    """More than two hours in all are refused with what to do instead."""
    own_desk = own_visitor.app.state.pages.desk
    for minutes, status in ((0, 303), (50, 303), (100, 422)):
        own_desk.now = NOW_MS + minutes * 60_000
        answer = own_visitor.post(f"{COOLER}/loading", data=_form(own_visitor))
        assert answer.status_code == status
    assert "2 hours at most in all" in answer.text


def test_a_program_says_that_a_cooler_is_loaded(own_visitor: Visitor) -> None:
    """By JSON for some minutes, told until when, and ended; no cooler, and 3 h, are refused."""
    way = "/api/places/walk-in-cooler/loading"
    assert own_visitor.get(way).json() == {"until": None}
    answer = own_visitor.post(way, json={"by": "Wren", "minutes": 90})
    assert (answer.status_code, answer.json()) == (200, {"until": "2026-11-25T18:30:00Z"})
    assert own_visitor.get(way).json() == answer.json()
    assert own_visitor.post(way, json={"by": "Wren", "end": True}).json() == {"until": None}
    assert own_visitor.post(way, json={"by": "Wren", "minutes": 180}).status_code == 422
    assert own_visitor.post(way, json={"minutes": 60}).status_code == 422
    elsewhere = own_visitor.post("/api/places/tunnel-2/loading", json={"by": "Wren"})
    assert elsewhere.status_code == 422
    assert own_visitor.get("/api/places/cellar/loading").status_code == 404


def test_the_first_page_says_until_when(own_desk: SmallDesk, own_visitor: Visitor) -> None:
    """The cooler's card says that it is being loaded and until when, and no longer after it."""
    own_visitor.post(f"{COOLER}/loading", data=_form(own_visitor))
    card = own_visitor.get("/").text.partition('id="place-walk-in-cooler"')[2]
    assert "Being loaded until 13:00" in card.partition("</article>")[0]
    assert own_visitor.get("/").text.count("Being loaded") == 1
    own_desk.now = NOW_MS + USUAL_MS
    assert "Being loaded" not in own_visitor.get("/").text
