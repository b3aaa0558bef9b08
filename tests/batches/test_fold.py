"""Folding a ledger that nobody checked."""

from monitor.batches import fold, stay_at
from monitor.batches.rules import move
from monitor.model import EntryKind, LedgerEntry, Stay
from tests.batches.fake_ledger import BEGAN_MS, DAY_MS, NOW_MS, at, corms, ledger, stems


def test_an_entry_that_the_ledger_does_not_allow_is_listed_and_has_no_effect() -> None:
    """A damaged ledger still folds, and says which entry it left out."""
    paper = ledger(stems(300))
    paper.entries.append(
        LedgerEntry(
            9, 9, 1, EntryKind.OUT, NOW_MS, NOW_MS, "Wren", {"purpose": "sold", "count": 400}
        )
    )
    book = fold(paper.entries)
    assert book.batches[1].count == 300
    assert [(fault.entry, fault.batch) for fault in book.contradictions] == [(9, 1)]


def test_a_ledger_folds_as_it_stood_at_a_time() -> None:
    """What takes effect later than the time asked for is left out."""
    paper = ledger(corms())
    paper.write(move(1, at(), place="tunnel-2"))
    then = fold(paper.entries, NOW_MS - 2 * DAY_MS).batches[1]
    assert then.stays == (Stay("sprouting-room", "pre_sprout", BEGAN_MS, None),)


def test_a_stay_holds_from_its_start_to_before_its_end() -> None:
    """At the moment of a move a batch is in its new place."""
    paper = ledger(corms())
    moved_ms = NOW_MS - DAY_MS
    paper.write(move(1, at(moved_ms), place="tunnel-2"))
    batch = paper.book.batches[1]
    assert stay_at(batch, moved_ms - 1) == batch.stays[0]
    assert stay_at(batch, moved_ms) == batch.stays[1]
    assert stay_at(batch, BEGAN_MS - 1) is None


def test_an_empty_ledger_is_an_empty_book() -> None:
    """No entries, no batches."""
    assert fold([]).batches == {}
