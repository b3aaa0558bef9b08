"""The shapes of batches as JSON."""

import json

from monitor.batches import Purpose
from monitor.batches.counts import Count
from monitor.batches.listing import batch_details_json, batches_json
from monitor.batches.rules import Leaving, Seen, end, harvest, move, observe, out, undo
from monitor.batches.sampling import parse_roots
from monitor.model import PlaceState
from monitor.units import iso_utc
from tests.batches.fake_ledger import (
    DAY_MS,
    GROWING,
    HOUR_MS,
    NOW_MS,
    PaperLedger,
    at,
    corms,
    ledger,
    plants,
    stems,
)


def test_a_time_is_utc_with_z() -> None:
    """Times are ISO 8601 in UTC with Z, with milliseconds only where there are some."""
    # 1,000,000,000 s after 1970 is 2001-09-09T01:46:40Z (POSIX time, widely published).
    assert iso_utc(1_000_000_000_000) == "2001-09-09T01:46:40Z"
    assert iso_utc(1_000_000_000_007) == "2001-09-09T01:46:40.007Z"
    assert iso_utc(None) is None


def test_the_list_has_the_promised_keys_and_the_state_it_is_given() -> None:
    """Each open batch shows what others rely on; a state nobody knows is unknown."""
    paper = ledger(stems(640, rough=True), corms(None))
    rows = batches_json(paper.book, {1: PlaceState.IN_BAND})
    promised = ("id", "crop", "cultivar", "count", "rough", "stage", "place", "since", "state")
    assert [tuple(row[key] for key in promised) for row in rows] == [
        (1, "ranunculus", "Dawn Apricot", 640, True, "cut_stems", "walk-in-cooler",
         "2026-10-19T10:00:00Z", "in_band"),
        (2, "ranunculus", "Dawn Apricot", None, False, "pre_sprout", "sprouting-room",
         "2026-10-19T10:00:00Z", "unknown"),
    ]  # fmt: skip


def test_since_is_the_start_of_the_newest_stay() -> None:
    """A moved batch is in its new place since it came there."""
    paper = ledger(corms())
    paper.write(move(1, at(), place="tunnel-2"))
    row = batches_json(paper.book, {})[0]
    assert (row["place"], row["since"]) == ("tunnel-2", "2026-11-17T10:00:00Z")
    assert row["began_at"] == "2026-10-19T10:00:00Z"


def test_ended_batches_are_listed_where_asked_for() -> None:
    """An ended batch is left out, or has the state ended."""
    paper = ledger(stems())
    paper.write(end(1, "composted", at()))
    assert batches_json(paper.book, {}) == []
    row = batches_json(paper.book, {1: PlaceState.HARM}, ended=True)[0]
    assert (row["state"], row["ended_at"]) == ("ended", "2026-11-17T10:00:00Z")


def _busy() -> PaperLedger:
    """Return a ledger with a look, a harvest, a sale and an undone sale."""
    paper = ledger(plants())
    seen = Seen(roots=parse_roots("12 15 mm"), note="two trays")
    paper.write(observe(1, seen, at(NOW_MS - 3 * DAY_MS)))
    when = at(NOW_MS - 2 * DAY_MS)
    cut_ms = NOW_MS - 2 * DAY_MS - HOUR_MS
    paper.write(
        harvest(
            1, Count(90), when, growing=GROWING, stage="cut_stems", place="walk-in-cooler",
            cut_ms=cut_ms,
        )
    )  # fmt: skip
    paper.write(out(2, [Leaving(Purpose.SOLD, Count(4), 10, "market")], at()))
    paper.write(out(2, [Leaving(Purpose.SOLD, Count(3), 10, "market")], at()))
    paper.write(undo(2, at(NOW_MS, by="Teasel")))
    return paper


def test_details_show_stays_record_sightings_and_leavings() -> None:
    """One batch in full: who recorded what, when, and what no longer counts."""
    paper = _busy()
    book = paper.book
    growing = batch_details_json(book.batches[1], book, paper.entries, {})
    cooled = batch_details_json(book.batches[2], book, paper.entries, {})
    assert growing["observations"][0]["roots"]["lengths_mm"] == [12.0, 15.0]
    assert growing["observations"][0]["note"] == "two trays"
    assert cooled["stays"] == [
        {"place": "walk-in-cooler", "stage": "cut_stems", "since": "2026-11-16T10:00:00Z",
         "until": None}
    ]  # fmt: skip
    assert cooled["cuttings"] == growing["cuttings"]
    assert cooled["cuttings"][0]["cut_at"] == "2026-11-16T09:00:00Z"
    assert [(e["kind"], e["by"], e["undone"]) for e in cooled["entries"]] == [
        ("added", "Wren", False),
        ("out", "Wren", False),
        ("out", "Wren", True),
        ("undone", "Teasel", False),
    ]
    assert [(gone["count"], gone["bunches"], gone["to"]) for gone in cooled["outs"]] == [
        (40, 4, "market")
    ]


def test_every_shape_is_plain_json() -> None:
    """Nothing in the shapes needs help to become JSON."""
    paper = _busy()
    book = paper.book
    rows = [batch_details_json(each, book, paper.entries, {}) for each in book.batches.values()]
    assert json.loads(json.dumps(rows, allow_nan=False)) == rows
