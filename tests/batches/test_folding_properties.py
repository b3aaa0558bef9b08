"""Whatever is accepted, the ledger holds together."""

from dataclasses import replace
from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.batches import Book, Purpose, fold, open_batches
from monitor.batches.counts import Count
from monitor.batches.rules import (
    Builder,
    Leaving,
    Seen,
    add,
    divide,
    end,
    harvest,
    move,
    observe,
    out,
    split,
    undo,
)
from monitor.errors import CormwatchError
from monitor.model import LedgerEntry
from tests.batches.fake_ledger import (
    BEGAN_MS,
    GROWING,
    NOW_MS,
    UNITS,
    PaperLedger,
    at,
    corms,
    ledger,
    plants,
    stems,
)

PLACES = st.sampled_from(["sprouting-room", "tunnel-2", "walk-in-cooler"])
STAGES = st.sampled_from(["pre_sprout", "bud", "bloom", "cut_stems"])
BATCHES = st.integers(1, 4)
COUNTS = st.builds(Count, st.integers(0, 400), st.booleans())
TIMES = st.integers(BEGAN_MS, NOW_MS).map(lambda at_ms: at(at_ms - at_ms % 3_600_000))
MAYBE = st.none() | BATCHES


def _harvest(batch: int, count: Count, when: int, into: int | None) -> Builder:
    place = None if into else "walk-in-cooler"
    return harvest(
        batch, count, at(when), growing=GROWING, stage="cut_stems", place=place, into=into
    )


VERBS: st.SearchStrategy[Builder] = st.one_of(
    st.builds(add, st.sampled_from([corms(40), plants(None), stems(60, rough=True)]), TIMES),
    st.builds(
        lambda batch, when, place, stage: move(batch, when, place=place, stage=stage, units=UNITS),
        BATCHES, TIMES, PLACES, st.none() | STAGES,
    ),
    st.builds(_harvest, BATCHES, COUNTS, st.integers(BEGAN_MS, NOW_MS), MAYBE),
    st.builds(
        lambda batch, count, when: out(batch, [Leaving(Purpose.SOLD, count)], when),
        BATCHES, COUNTS, TIMES,
    ),
    st.builds(lambda batch, count, when: observe(batch, Seen(count=count), when),
              BATCHES, COUNTS, TIMES),
    st.builds(lambda batch, n, when: observe(batch, Seen(held_for="market", held=n), when),
              BATCHES, st.integers(0, 100), TIMES),
    st.builds(lambda batch, count, when: split(batch, count, when, place="shed"),
              BATCHES, COUNTS, TIMES),
    st.builds(divide, BATCHES, COUNTS, TIMES),
    st.builds(lambda batch, when: end(batch, "done", when), BATCHES, TIMES),
    st.builds(lambda batch, entry: undo(batch, at(NOW_MS), entry=entry),
              BATCHES, st.none() | st.integers(1, 12)),
)  # fmt: skip


def _write(paper: PaperLedger, build: Builder) -> list[LedgerEntry]:
    """Write what is accepted; a refusal writes nothing."""
    try:
        return paper.write(build)
    except CormwatchError:
        return []


def _state(book: Book) -> Book:
    return replace(book, undone=frozenset())


@given(st.lists(VERBS, max_size=14))
@settings(max_examples=150)
def test_whatever_is_accepted_holds_together(builds: list[Builder]) -> None:
    """No count is negative, stays follow without overlap, and nothing contradicts."""
    paper = ledger(corms(200), plants(100), stems(300))
    for build in builds:
        _write(paper, build)
        book = paper.book
        assert book.contradictions == ()
        for batch in book.batches.values():
            assert batch.count is None or batch.count >= 0
            for before, after in zip(batch.stays, batch.stays[1:], strict=False):
                assert before.until_ms == after.since_ms
                assert before.since_ms < after.since_ms
                assert (before.place, before.stage) != (after.place, after.stage)
            assert batch.stays[-1].until_ms == batch.ended_ms
        assert {batch.id for batch in open_batches(book)} <= set(book.batches)


@given(st.lists(VERBS, max_size=8), VERBS)
@settings(max_examples=150)
def test_undoing_restores_the_book_as_it_was(builds: list[Builder], last: Builder) -> None:
    """An entry undone at once leaves everything as before it was written."""
    paper = ledger(corms(200), plants(100), stems(300))
    for build in builds:
        _write(paper, build)
    before = _state(paper.book)
    undone_before = paper.book.undone
    written = [e for e in _write(paper, last) if "group" not in e.data]
    if not written:
        return
    paper.write(undo(written[0].batch, at(NOW_MS), entry=written[0].id))
    assert _state(paper.book) == before
    assert paper.book.undone == undone_before | {entry.id for entry in written}


@given(st.lists(VERBS, max_size=10), st.randoms(use_true_random=False))
@settings(max_examples=50)
def test_the_book_depends_on_the_entries_not_on_their_order_in_hand(
    builds: list[Builder], dice: Random
) -> None:
    """Entries handed over in any order fold to the same book."""
    paper = ledger(corms(200), plants(100), stems(300))
    for build in builds:
        _write(paper, build)
    shuffled = list(paper.entries)
    dice.shuffle(shuffled)
    assert fold(shuffled) == paper.book
