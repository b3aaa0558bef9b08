"""The forms of batches, without a script: the rules of the commands, in a page's words."""

import html
from collections.abc import Sequence
from typing import Final

import pytest

from monitor.batches import fold
from monitor.model import EntryKind
from tests.web.desk import HOUR_MS, NOW_MS, SmallDesk
from tests.web.recording import Recorder
from tests.web.test_speaking import ENGLISH
from tests.web.visiting import Visitor

PAGES = ("look", "hold", "move", "harvest", "out", "undo")


ALSO_REFUSED: Final[Sequence[tuple[str, dict[str, str], str]]] = (
    ("/record/look?batch=1", {"at": "2026-01-01 10:00", "note": "x"}, ""),
    ("/record/look?batch=1", {"at": "noon-ish", "note": "x"}, ""),
    ("/record/look?batch=1", {"roots": "many"}, ""),
    ("/record/look?batch=1", {}, ""),
    ("/record/hold?batch=2", {"stems": "5"}, ""),
    ("/record/move?batch=1", {"to": "Luna 9"}, ""),
    ("/record/move?batch=2", {"stage": "bloom"}, ""),
    ("/record/out?batch=2", {"sold": "0"}, ""),
    ("/record/out?batch=1", {"sold": "2", "bunches_of": "10"}, ""),
    ("/record/out?batch=1", {"sold": "nine"}, ""),
)


@pytest.fixture
def recorder(own_visitor: Visitor, own_desk: SmallDesk) -> Recorder:
    """Return somebody who fills in forms."""
    return Recorder(own_visitor, own_desk)


def test_a_harvest_becomes_stems_in_the_cooler(recorder: Recorder) -> None:
    """Growing plants keep their count, rough stems stand in the cooler, the page says so."""
    answer = recorder.press(
        "/record/harvest?batch=4", stems="240", rough="yes", to="walk-in-cooler"
    )
    assert answer.status_code == 303
    batches = fold(recorder.desk.ledger.entries()).batches
    assert (batches[4].count, batches[5].count, batches[5].rough) == (310, 240, True)
    page = recorder.visitor.get(answer.headers["location"]).text
    assert "about 240 stems harvested" in page
    assert "/record/out?batch=5" in page


def test_bunches_leave(recorder: Recorder) -> None:
    """Twelve bunches of ten sold and thirty stems' worth thrown away leave the count."""
    recorder.press("/record/out?batch=2", sold="12", culled="3", bunches_of="10", to="Market")
    assert fold(recorder.desk.ledger.entries()).batches[2].count == 640 - 150
    assert 'name="bunches_of" value="10"' in recorder.visitor.get("/record/out?batch=2").text


@pytest.mark.parametrize(
    ("words", "roots"),
    [
        ({"roots": "22 of 25"}, {"rooted": 22, "of": 25, "share": 0.88}),
        ({"pad": ["1", "", "2", "", "1", "", ""]}, {"lengths_mm": [0, 12.7, 12.7, 25.4], "of": 4}),
    ],
)
def test_roots_are_typed_or_tapped(
    recorder: Recorder, words: dict[str, str], roots: dict[str, object]
) -> None:
    """A share as noted beside the tray, or corms tapped by the length of their roots."""
    assert recorder.press("/record/look?batch=1", **words).status_code == 303
    assert recorder.newest().data["roots"] == roots


def test_a_batch_is_moved_held_and_begun(recorder: Recorder) -> None:
    """Each form writes what its command would."""
    moved = recorder.press("/record/move?batch=1", to="tunnel-2", stage="just_planted")
    assert moved.status_code == 303
    assert recorder.newest().data == {
        "place": "tunnel-2",
        "stage": "just_planted",
        "unit": "plants",
    }
    recorder.press("/record/hold?batch=2", held_for="Ida's table", stems="40")
    assert (recorder.newest().data["held_for"], recorder.newest().data["held"]) == (
        "Ida's table",
        40,
    )
    recorder.press(
        "/record/add?place=soak-bucket", crop="anemone", cultivar="Night Plum", count="1,200",
        place="soak-bucket", stage="soak",
    )  # fmt: skip
    assert recorder.newest().kind is EntryKind.ADDED
    assert recorder.newest().data["count"] == 1200
    assert '<option value="Night Plum">' in recorder.visitor.get("/record/add").text


@pytest.mark.parametrize("field", ["at", "at_day"])
def test_an_entry_is_back_dated_in_the_farms_zone(recorder: Recorder, field: str) -> None:
    """Yesterday 16:00 in words, or by date, is 16:00 at the farm: 21:00 UTC in November.

    America/New_York is at UTC-5 outside summer time (IANA time zone database).
    """
    text = {"at": "yesterday 16:00", "at_day": "2026-11-24T16:00"}[field]
    answer = recorder.press("/record/look?batch=1", all_fine="yes", **{field: text})
    assert answer.status_code == 303
    assert recorder.newest().at_ms == NOW_MS - 20 * HOUR_MS  # NOW is 12:00 by the farm


def test_a_refusal_keeps_what_was_typed_and_speaks_of_the_page(recorder: Recorder) -> None:
    """What is wrong stands above the form, which still says everything; nothing is written."""
    before = len(recorder.desk.ledger.entries())
    answer = recorder.press(
        "/record/look?batch=1", at="2026-01-01 10:00", note='soft <b>"tips"</b>', culls="about 5"
    )
    assert answer.status_code == 422
    assert "“Thrown away” takes an exact number" in answer.text
    assert 'value="soft &lt;b&gt;&#34;tips&#34;&lt;/b&gt;"' in answer.text
    assert 'value="2026-01-01 10:00"' in answer.text
    answer = recorder.press("/record/look?batch=1", at="2026-01-01 10:00", note="early")
    assert "batch 1 has been here only since" in answer.text
    assert "give a later time with “When”" in answer.text
    assert "cormwatch" not in answer.text.partition('id="refused"')[2].partition("</p>")[0]
    assert len(recorder.desk.ledger.entries()) == before


REFUSED: Final[Sequence[tuple[str, dict[str, str], str]]] = (
    (
        "/record/harvest?batch=4",
        {"stems": "9", "to": "tunnel-2"},
        "where no cut stems are kept",
    ),
    ("/record/harvest?batch=1", {"stems": "9", "to": "walk-in-cooler"}, "no stems are cut"),
    ("/record/out?batch=2", {}, "nothing leaves"),
    ("/record/out?batch=3", {"sold": "900"}, "900"),
    ("/record/move?batch=1", {}, "where to?"),
    ("/record/look", {"batch": "77", "note": "x"}, "there is no batch 77"),
    ("/record/look?batch=1", {"at": "2099-01-01"}, "in the future"),
    ("/record/look?batch=1", {"note": "x", "by": " "}, "nobody is named"),
    ("/record/look", {"note": "x"}, "is no batch number"),
    ("/record/look?batch=1", {"note": "x", "token": "short"}, "load the page again"),
)


@pytest.mark.parametrize(("path", "words", "said"), REFUSED)
def test_what_the_ledger_does_not_allow_is_refused(
    recorder: Recorder, path: str, words: dict[str, str], said: str
) -> None:
    """The same rules as the commands; nothing is written."""
    before = len(recorder.desk.ledger.entries())
    answer = recorder.press(path, **words)
    assert answer.status_code == 422
    assert said in answer.text
    assert len(recorder.desk.ledger.entries()) == before


def test_a_spanish_page_refuses_in_spanish(recorder: Recorder) -> None:
    """Every refusal, and what is said of a batch put where it is harmed, is Spanish."""
    recorder.visitor.headers["accept-language"] = "es"
    for path, words, _ in (*REFUSED, *ALSO_REFUSED):
        page = recorder.press(path, **words).text
        refusal = html.unescape(page.partition('id="refused"')[2].partition("</p>")[0])
        assert ENGLISH.findall(refusal.partition(">")[2]) == [], refusal
        assert len(refusal) > 30
    moved = recorder.press("/record/move?batch=4", to="walk-in-cooler").headers["location"]
    told = html.unescape(recorder.visitor.get(moved).text)
    assert "Anémona en botón" in told


def test_a_spanish_page_reads_spanish_words(recorder: Recorder) -> None:
    """Its hint, a time and a count as it shows them are taken, and English ones still."""
    recorder.visitor.headers["accept-language"] = "es"
    assert "ayer 16:00" in recorder.visitor.get("/record/look?batch=1").text
    for at in ("ayer a las 16:00", "yesterday 16:00"):
        seen = recorder.press("/record/look?batch=1", all_fine="yes", at=at)
        assert seen.status_code == 303
        assert recorder.newest().at_ms == NOW_MS - 20 * HOUR_MS
    for count in ("unos 600", "about 600"):
        added = recorder.press(
            "/record/add?place=soak-bucket", crop="anemone", cultivar="Night Plum", count=count,
            place="soak-bucket", stage="soak", at="hace 2 h",
        )  # fmt: skip
        assert added.status_code == 303
        entry = recorder.newest()
        assert (entry.data["count"], entry.data["rough"]) == (600, True)
        assert entry.at_ms == NOW_MS - 2 * HOUR_MS


def test_the_last_entry_is_undone(recorder: Recorder) -> None:
    """The page says which, and afterwards that it no longer counts."""
    recorder.press("/record/look?batch=2", note="wrong batch")
    assert "seen: wrong batch" in recorder.visitor.get("/record/undo?batch=2").text
    answer = recorder.press("/record/undo?batch=2")
    assert answer.status_code == 303
    assert recorder.newest().kind is EntryKind.UNDONE
    assert fold(recorder.desk.ledger.entries()).observations[2][-1].held == 120


def test_an_old_form_keeps_its_words(recorder: Recorder) -> None:
    """A page from before the monitor's last start records nothing, and one more press does."""
    answer = recorder.press("/record/look?batch=1", note="long and dear words", form_key="x" * 24)
    assert answer.status_code == 403
    assert 'value="long and dear words"' in answer.text
    assert recorder.newest().data.get("note") != "long and dear words"


def test_pages_lead_to_the_forms(recorder: Recorder) -> None:
    """Batches, a batch and a place each lead to what can be recorded there."""
    assert "/record/harvest?batch=4" in recorder.visitor.get("/batches").text
    batch = recorder.visitor.get("/batches/2").text
    assert "/record/out?batch=2" in batch
    assert "/record/undo?batch=2" in batch
    place = recorder.visitor.get("/places/walk-in-cooler").text
    assert "/record/move?to=walk-in-cooler" in place
    for verb in PAGES:
        assert recorder.visitor.get(f"/record/{verb}").status_code == 200
        assert recorder.visitor.get(f"/record/{verb}?batch=no&pad=3").status_code == 200
    assert recorder.visitor.get("/record/nothing").status_code == 404
    assert recorder.visitor.get("/record/done/nothing").status_code == 404
