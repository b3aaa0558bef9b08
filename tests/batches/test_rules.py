"""What may be recorded, and what is refused with its remedy."""

from collections.abc import Sequence

import pytest

from monitor.batches import Purpose
from monitor.batches.counts import Count
from monitor.batches.rules import (
    Builder,
    Leaving,
    Seen,
    Start,
    Writing,
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
from monitor.errors import LedgerRuleError, UnknownNameError
from monitor.model import EntryKind, Stay
from tests.batches.fake_ledger import (
    BEGAN_MS,
    DAY_MS,
    GROWING,
    HOUR_MS,
    NOW_MS,
    UNITS,
    at,
    corms,
    ledger,
    plants,
    stems,
)


def sold(number: int, *, bunch_of: int | None = None, to: str | None = None) -> Sequence[Leaving]:
    """Return one sale."""
    return [Leaving(Purpose.SOLD, Count(number), bunch_of, to)]


def cut(batch: int, number: int, writing: Writing, **more: object) -> Builder:
    """Return a harvest into the cooler, or what is named instead."""
    options = {"place": "walk-in-cooler"} | more
    return harvest(batch, Count(number), writing, growing=GROWING, stage="cut_stems", **options)  # type: ignore[arg-type]


def test_a_batch_begins_with_what_was_given() -> None:
    """The new batch stands in its place at its stage, counted when it began."""
    batch = ledger(corms()).book.batches[1]
    assert (batch.crop, batch.cultivar, batch.count, batch.rough) == (
        "ranunculus", "Dawn Apricot", 300, False,
    )  # fmt: skip
    assert batch.stays == (Stay("sprouting-room", "pre_sprout", BEGAN_MS, None),)
    assert batch.counted_at_ms == BEGAN_MS


def test_received_and_rotten_give_the_count() -> None:
    """Where no count is given, what came in less what was rotten is there."""
    start = Start(
        "ranunculus", "Dawn Apricot", "dry-store", "received", "corms", received=500, rotten=20
    )
    batch = ledger(start).book.batches[1]
    assert (batch.count, batch.received, batch.rotten) == (480, 500, 20)


@pytest.mark.parametrize(
    ("count", "received", "rotten", "complaint"),
    [
        (None, 10, 11, "11 rotten of 10"),
        (480, 470, 0, "480 corms are more than the 470"),
        (10, None, 3, "--rotten needs --received"),
        (0, None, None, "nothing to record"),
    ],
)
def test_figures_that_contradict_each_other_begin_no_batch(
    count: int | None, received: int | None, rotten: int | None, complaint: str
) -> None:
    """Count, received and rotten must fit together."""
    start = Start(
        "ranunculus", "Dawn Apricot", "dry-store", "received", "corms",
        None if count is None else Count(count), received=received, rotten=rotten,
    )  # fmt: skip
    with pytest.raises(LedgerRuleError, match=complaint):
        ledger(start)


def test_five_hundred_stems_do_not_leave_a_batch_of_three_hundred() -> None:
    """More than an exact count holds is refused, and nothing is written."""
    paper = ledger(stems(300))
    with pytest.raises(LedgerRuleError, match=r"holds 300 stems, so 500 cannot .* --count N"):
        paper.write(out(1, sold(500), at()))
    assert len(paper.entries) == 1


def test_a_rough_count_is_corrected_before_more_leaves_than_it_holds() -> None:
    """More than a rough count holds is refused with the way to correct it."""
    paper = ledger(stems(300, rough=True))
    with pytest.raises(LedgerRuleError, match=r"about 300 stems.*correct the count first"):
        paper.write(out(1, sold(310), at()))
    paper.write(observe(1, Seen(count=Count(330)), at()))
    paper.write(out(1, sold(310), at()))
    assert paper.book.batches[1].count == 20


def test_what_leaves_an_uncounted_batch_is_recorded_and_leaves_it_uncounted() -> None:
    """An unknown count stays unknown."""
    paper = ledger(stems(None))
    paper.write(out(1, sold(500), at()))
    assert paper.book.batches[1].count is None
    assert paper.book.outs[1][0].count == 500


def test_bunches_leave_by_their_stems() -> None:
    """Twelve bunches of ten are 120 stems, to whom is kept."""
    paper = ledger(stems(300))
    paper.write(out(1, sold(12, bunch_of=10, to="Saturday market"), at()))
    gone = paper.book.outs[1][0]
    assert (gone.count, gone.bunches, gone.bunch_of, gone.to) == (120, 12, 10, "Saturday market")
    assert paper.book.batches[1].count == 180


def test_a_batch_of_which_exactly_none_is_left_ends() -> None:
    """The last stems' leaving ends the batch, and undoing it opens it again."""
    paper = ledger(stems(300))
    paper.write(out(1, sold(300), at()))
    emptied = paper.book.batches[1]
    assert (emptied.ended_ms, emptied.count) == (NOW_MS - DAY_MS, 0)
    paper.write(undo(1, at(NOW_MS)))
    opened = paper.book.batches[1]
    assert opened.ended_ms is None
    assert opened.count == 300


def test_an_earlier_leaving_that_a_later_one_needs_is_refused() -> None:
    """Back-dated stems cannot be ones that left afterwards; the later entry is named."""
    paper = ledger(stems(300))
    paper.write(out(1, sold(200), at(NOW_MS - DAY_MS)))
    with pytest.raises(LedgerRuleError, match=r"\(entry 2\).*batch undo 1 --entry 2"):
        paper.write(out(1, sold(150), at(NOW_MS - 2 * DAY_MS)))


def test_a_later_count_outweighs_what_is_recorded_before_it() -> None:
    """A back-dated leaving does not change a count made after it."""
    paper = ledger(stems(300))
    paper.write(observe(1, Seen(count=Count(250, rough=True)), at(NOW_MS - DAY_MS)))
    paper.write(out(1, sold(40), at(NOW_MS - 2 * DAY_MS)))
    batch = paper.book.batches[1]
    assert (batch.count, batch.rough, batch.counted_at_ms) == (250, True, NOW_MS - DAY_MS)


@pytest.mark.parametrize("late_ms", [61_000, DAY_MS])
def test_a_date_in_the_future_is_refused(late_ms: int) -> None:
    """Nothing is recorded before it happens."""
    paper = ledger(stems())
    with pytest.raises(LedgerRuleError, match="in the future"):
        paper.write(move(1, at(NOW_MS + late_ms), place="tunnel-2"))


def test_an_entry_names_its_writer() -> None:
    """A blank name is refused."""
    with pytest.raises(LedgerRuleError, match="--by NAME"):
        ledger().write(add(corms(), at(by="  ")))


def test_an_unknown_batch_is_refused_with_the_open_ones() -> None:
    """The refusal names the batches there are."""
    with pytest.raises(UnknownNameError, match=r"no batch 9: open batches are 1, 2"):
        ledger(corms(), stems()).write(move(9, at(), place="tunnel-2"))


def test_a_move_begins_a_stay_and_ends_the_one_before() -> None:
    """Stays follow each other without a gap; the stage's unit comes with it."""
    paper = ledger(corms())
    paper.write(move(1, at(), place="tunnel-2", stage="bud", units=UNITS))
    batch = paper.book.batches[1]
    assert batch.stays == (
        Stay("sprouting-room", "pre_sprout", BEGAN_MS, NOW_MS - DAY_MS),
        Stay("tunnel-2", "bud", NOW_MS - DAY_MS, None),
    )
    assert batch.unit == "plants"


def test_an_earlier_move_is_put_between_the_stays() -> None:
    """A move dated before the newest stay parts the stay it falls in."""
    paper = ledger(corms())
    paper.write(move(1, at(), place="tunnel-2", stage="bud", units=UNITS))
    paper.write(move(1, at(BEGAN_MS + DAY_MS), place="shed"))
    assert paper.book.batches[1].stays == (
        Stay("sprouting-room", "pre_sprout", BEGAN_MS, BEGAN_MS + DAY_MS),
        Stay("shed", "pre_sprout", BEGAN_MS + DAY_MS, NOW_MS - DAY_MS),
        Stay("tunnel-2", "bud", NOW_MS - DAY_MS, None),
    )


def test_an_earlier_arrival_in_the_same_place_lengthens_the_stay() -> None:
    """A batch that came to its place sooner than recorded has one stay there."""
    paper = ledger(corms())
    paper.write(move(1, at(), place="tunnel-2"))
    paper.write(move(1, at(BEGAN_MS + DAY_MS), place="tunnel-2"))
    assert paper.book.batches[1].stays[1:] == (
        Stay("tunnel-2", "pre_sprout", BEGAN_MS + DAY_MS, None),
    )


def test_a_move_before_the_batch_began_is_refused() -> None:
    """A batch is nowhere before it began."""
    with pytest.raises(LedgerRuleError, match="has been here only since"):
        ledger(corms()).write(move(1, at(BEGAN_MS - 1), place="tunnel-2"))


def test_a_move_to_where_it_is_is_refused() -> None:
    """A move must change the place or the stage."""
    with pytest.raises(LedgerRuleError, match="already"):
        ledger(corms()).write(move(1, at(), place="sprouting-room"))


def test_plants_do_not_become_stems_by_moving() -> None:
    """Cut stems come of a harvest, which keeps the growing batch."""
    paper = ledger(plants())
    with pytest.raises(LedgerRuleError, match="batch harvest 1"):
        paper.write(move(1, at(), place="walk-in-cooler", stage="cut_stems", units=UNITS))


def test_stems_do_not_grow_again() -> None:
    """Cut stems never come to a stage of plants."""
    with pytest.raises(LedgerRuleError, match="cannot become plants again"):
        ledger(stems()).write(move(1, at(), place="tunnel-2", stage="bud", units=UNITS))


def test_a_harvest_starts_a_stems_batch_and_leaves_the_plants_their_count() -> None:
    """500 stems may come of 300 plants; the cutting joins the two batches."""
    paper = ledger(plants(300))
    paper.write(cut(1, 500, at(), cut_ms=NOW_MS - DAY_MS - HOUR_MS))
    growing, cooled = paper.book.batches[1], paper.book.batches[2]
    assert growing.count == 300
    assert (cooled.count, cooled.unit, cooled.parents) == (500, "stems", (1,))
    assert cooled.stays == (Stay("walk-in-cooler", "cut_stems", NOW_MS - DAY_MS, None),)
    cutting = paper.book.cuttings[0]
    assert (cutting.source, cutting.into, cutting.count) == (1, 2, 500)
    assert cutting.at_ms - cutting.cut_ms == HOUR_MS


def test_a_harvest_adds_to_a_stems_batch_of_its_kind() -> None:
    """Stems of the same crop and cultivar join the batch that is named."""
    paper = ledger(plants(), stems(100))
    paper.write(cut(1, 50, at(), into=2, place=None))
    assert paper.book.batches[2].count == 150
    assert paper.book.cuttings[0].into == 2


@pytest.mark.parametrize(
    ("starts", "into", "place", "complaint"),
    [
        ((plants(), corms()), 2, None, "no stems can be added"),
        ((plants(cultivar="Plum Fen"), stems()), 2, None, "two cultivars stay apart"),
        ((plants(), stems()), 2, "tunnel-2", "leave --to out"),
        ((plants(),), None, None, "where do the stems stand"),
        ((corms(),), None, "walk-in-cooler", "no stems are cut"),
        ((stems(),), None, "walk-in-cooler", "no stems are cut"),
    ],
)
def test_a_harvest_that_does_not_fit_is_refused(
    starts: tuple[Start, ...], into: int | None, place: str | None, complaint: str
) -> None:
    """A harvest needs a growing batch, a place, and stems of the same kind to join."""
    paper = ledger(*starts)
    with pytest.raises(LedgerRuleError, match=complaint):
        paper.write(cut(1, 50, at(), into=into, place=place))
    assert len(paper.entries) == len(starts)


def test_stems_are_cut_before_they_are_put_away() -> None:
    """A cutting later than its putting away is refused."""
    with pytest.raises(LedgerRuleError, match="--cut comes before --at"):
        ledger(plants()).write(cut(1, 50, at(), cut_ms=NOW_MS))


def test_a_look_records_what_was_seen() -> None:
    """Roots, a note and all fine stand in one observation."""
    paper = ledger(corms())
    paper.write(observe(1, Seen(all_fine=True, moisture="moist", note="turned"), at()))
    seen = paper.book.observations[1][0]
    assert (seen.all_fine, seen.moisture, seen.note, seen.by) == (True, "moist", "turned", "Wren")


def test_culls_seen_leave_the_count() -> None:
    """What is thrown away at a look is out, and stands in the observation."""
    paper = ledger(corms(300))
    paper.write(observe(1, Seen(mould="grey, two trays", culls=12), at()))
    assert paper.book.batches[1].count == 288
    assert paper.book.outs[1][0].purpose is Purpose.CULLED
    assert paper.book.observations[1][0].culls == 12


@pytest.mark.parametrize(
    ("seen", "complaint"),
    [
        (Seen(), "nothing was seen"),
        (Seen(all_fine=True, mould="grey"), "contradict"),
        (Seen(held=5), "held for whom"),
        (Seen(held_for="Saturday wedding"), "how many are held"),
        (Seen(held_for="Saturday wedding", held=301), "cannot be held"),
    ],
)
def test_a_look_that_says_nothing_or_two_things_is_refused(seen: Seen, complaint: str) -> None:
    """An observation is refused where it is empty or contradicts itself or the count."""
    with pytest.raises(LedgerRuleError, match=complaint):
        ledger(stems(300)).write(observe(1, seen, at()))


def test_stems_are_held_until_they_leave_to_their_order_or_are_released() -> None:
    """A hold shrinks as stems leave to it, and none releases it."""
    paper = ledger(stems(300))
    paper.write(observe(1, Seen(held_for="Saturday wedding", held=120), at()))
    assert paper.book.batches[1].held_for == "Saturday wedding"
    paper.write(out(1, sold(100, to="saturday Wedding"), at()))
    assert [(each.held_for, each.count) for each in paper.book.holds[1]] == [
        ("Saturday wedding", 20)
    ]
    paper.write(observe(1, Seen(held_for="Saturday wedding", held=0), at()))
    assert paper.book.holds[1] == ()
    assert paper.book.batches[1].held_for is None


def test_a_split_parts_a_batch() -> None:
    """The part is a batch of its own with its parent; the rest stays."""
    paper = ledger(corms(300))
    paper.write(split(1, Count(100), at(), place="tunnel-2"))
    rest, part = paper.book.batches[1], paper.book.batches[2]
    assert (rest.count, part.count, part.parents) == (200, 100, (1,))
    assert part.stays == (Stay("tunnel-2", "pre_sprout", NOW_MS - DAY_MS, None),)


@pytest.mark.parametrize(
    ("number", "stage", "complaint"),
    [(300, None, "whole of batch 1"), (301, None, "cannot be taken"), (5, "cut_stems", "harvest")],
)
def test_a_split_that_does_not_fit_is_refused(
    number: int, stage: str | None, complaint: str
) -> None:
    """The whole is moved, more is not there, and stems come of a harvest."""
    with pytest.raises(LedgerRuleError, match=complaint):
        ledger(corms(300)).write(split(1, Count(number), at(), stage=stage, units=UNITS))


def test_dividing_makes_more_of_the_same() -> None:
    """A count may grow by dividing, and is counted anew."""
    paper = ledger(corms(80))
    paper.write(divide(1, Count(240, rough=True), at()))
    batch = paper.book.batches[1]
    assert (batch.count, batch.rough, batch.counted_at_ms) == (240, True, NOW_MS - DAY_MS)


@pytest.mark.parametrize(("start", "complaint"), [(corms(80), "--culled"), (stems(80), "split")])
def test_dividing_makes_no_fewer_and_no_stems(start: Start, complaint: str) -> None:
    """Dividing loses nothing, and cut stems cannot be divided."""
    with pytest.raises(LedgerRuleError, match=complaint):
        ledger(start).write(divide(1, Count(60), at()))


@pytest.mark.parametrize(
    "build",
    [
        move(1, at(NOW_MS), place="tunnel-2"),
        out(1, sold(5), at(NOW_MS)),
        observe(1, Seen(all_fine=True), at(NOW_MS)),
        split(1, Count(5), at(NOW_MS), place="tunnel-2"),
        end(1, "again", at(NOW_MS)),
    ],
)
def test_nothing_is_recorded_for_an_ended_batch(build: Builder) -> None:
    """After its end a batch takes no entry, and the refusal says how to undo the end."""
    paper = ledger(stems(300))
    paper.write(end(1, "composted", at()))
    with pytest.raises(LedgerRuleError, match=r"ended on .*batch undo 1"):
        paper.write(build)


def test_an_entry_before_the_end_may_still_be_recorded() -> None:
    """An ended batch takes what happened before its end."""
    paper = ledger(stems(300))
    paper.write(end(1, "composted", at()))
    paper.write(out(1, sold(50), at(NOW_MS - 2 * DAY_MS)))
    assert paper.book.batches[1].count == 250


def test_an_end_says_why() -> None:
    """An end without a reason is refused."""
    with pytest.raises(LedgerRuleError, match="--why"):
        ledger(stems()).write(end(1, " ", at()))


def test_an_end_before_later_entries_is_refused() -> None:
    """A batch does not end before what was recorded of it."""
    paper = ledger(stems(300))
    paper.write(out(1, sold(50), at()))
    with pytest.raises(LedgerRuleError, match="entry 2"):
        paper.write(end(1, "composted", at(NOW_MS - 2 * DAY_MS)))


def test_undoing_annuls_all_that_was_written_together() -> None:
    """An undone harvest takes its stems batch with it; the record keeps all of it."""
    paper = ledger(plants())
    paper.write(cut(1, 50, at()))
    undone = paper.write(undo(1, at(NOW_MS)))
    assert [entry.batch for entry in undone] == [1, 2]
    assert list(paper.book.batches) == [1]
    assert paper.book.cuttings == ()
    assert paper.book.undone == {2, 3}
    assert len(paper.entries) == 5


def test_undoing_takes_the_newest_entry_that_counts() -> None:
    """A second undoing reaches the entry before."""
    paper = ledger(stems(300))
    paper.write(out(1, sold(10), at()))
    paper.write(out(1, sold(20), at()))
    paper.write(undo(1, at(NOW_MS)))
    assert paper.book.batches[1].count == 290
    paper.write(undo(1, at(NOW_MS)))
    assert paper.book.batches[1].count == 300


@pytest.mark.parametrize(
    ("entry", "failure", "complaint"),
    [
        (2, LedgerRuleError, "undone already"),
        (3, LedgerRuleError, "is an undoing"),
        (9, UnknownNameError, "no entry 9"),
    ],
)
def test_an_entry_is_undone_once(entry: int, failure: type[Exception], complaint: str) -> None:
    """An undone entry, an undoing and an unknown entry cannot be undone."""
    paper = ledger(stems(300))
    paper.write(out(1, sold(10), at()))
    paper.write(undo(1, at(NOW_MS), entry=2))
    with pytest.raises(failure, match=complaint):
        paper.write(undo(1, at(NOW_MS), entry=entry))


def test_an_entry_that_later_ones_rest_on_is_not_undone() -> None:
    """The count that made room for a leaving stays while the leaving counts."""
    paper = ledger(stems(300))
    paper.write(observe(1, Seen(count=Count(400)), at(NOW_MS - 2 * DAY_MS)))
    paper.write(out(1, sold(350), at()))
    with pytest.raises(LedgerRuleError, match=r"entry 3"):
        paper.write(undo(1, at(NOW_MS), entry=2))


def test_the_number_of_an_undone_batch_is_not_given_again() -> None:
    """The next batch takes a number never used."""
    paper = ledger(stems())
    paper.write(undo(1, at(NOW_MS)))
    assert paper.write(add(stems(), at()))[0].batch == 2
    with pytest.raises(LedgerRuleError, match="nothing is left"):
        paper.write(undo(1, at(NOW_MS)))


def test_each_entry_says_who_and_when() -> None:
    """An entry keeps its writer, the time it happened and the time it was written."""
    entry = ledger().write(add(corms(), at()))[0]
    assert (entry.kind, entry.by) == (EntryKind.ADDED, "Wren")
    assert (entry.at_ms, entry.recorded_ms) == (NOW_MS - DAY_MS, NOW_MS)
