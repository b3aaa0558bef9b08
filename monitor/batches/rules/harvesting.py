"""Stems are cut from a growing batch, which keeps its own count."""

from collections.abc import Collection, Sequence
from typing import Any

from monitor.batches.book import Book
from monitor.batches.counts import Count, positive
from monitor.batches.fold import fold
from monitor.batches.rules.adding import Start
from monitor.batches.rules.writing import Builder, Writing, agreed, alive
from monitor.errors import LedgerRuleError
from monitor.model import Batch, EntryKind, LedgerEntry, NewEntry


def harvest(
    batch: int,
    stems: Count,
    writing: Writing,
    *,
    growing: Collection[str],
    stage: str,
    place: str | None = None,
    into: int | None = None,
    cut_ms: int | None = None,
    grade: str | None = None,
) -> Builder:
    """Record a harvest: stems leave the plants for a stems batch, new or named.

    Parameters
    ----------
    batch : int
        The growing batch.
    stems : Count
        How many were cut.
    writing : Writing
        Who, and when the stems came to their place.
    growing : collection of str
        The stage ids of the crop that stems can be cut from.
    stage : str
        The crop's stage of cut stems.
    place : str, optional
        Where the stems stand; needed for a new stems batch.
    into : int, optional
        A stems batch of the same crop and cultivar to add them to.
    cut_ms : int, optional
        When they were cut, if earlier than they came to their place. [ms]
    grade : str, optional
        Their grade, for a new stems batch.
    """

    def build(entries: Sequence[LedgerEntry]) -> Sequence[NewEntry]:
        positive(stems, "stems")
        book = fold(entries)
        source, stay = alive(book, batch, writing)
        _check_growing(batch, stay.stage, growing)
        _check_cut(cut_ms, source, writing)
        cut: dict[str, Any] = {"count": stems.number, "rough": stems.rough, "cut_ms": cut_ms}
        taken = NewEntry(batch, EntryKind.HARVESTED, writing.at_ms, writing.by, cut)
        if into is None:
            data = _start(source, stems, stage, place, grade).data() | {"cut_ms": cut_ms}
            put = NewEntry(None, EntryKind.ADDED, writing.at_ms, writing.by, data)
        else:
            _check_target(book, source, into, place, writing)
            data = cut | {"from": batch}
            put = NewEntry(into, EntryKind.GATHERED, writing.at_ms, writing.by, data)
        return agreed(entries, [taken, put], writing)

    return build


def _check_growing(batch: int, stage: str, growing: Collection[str]) -> None:
    if stage not in growing:
        raise LedgerRuleError(
            f"batch {batch} is at {stage}, where no stems are cut: harvest needs one of "
            f"{', '.join(growing)}; move it first: cormwatch batch move {batch} --stage STAGE"
        )


def _check_cut(cut_ms: int | None, source: Batch, writing: Writing) -> None:
    if cut_ms is None:
        return
    if not source.stays[0].since_ms <= cut_ms <= writing.at_ms:
        raise LedgerRuleError(
            f"stems cannot be cut at {writing.say(cut_ms)} and put away at "
            f"{writing.say(writing.at_ms)}: --cut comes before --at, and after batch {source.id} "
            f"began ({writing.say(source.stays[0].since_ms)})"
        )


def _start(source: Batch, stems: Count, stage: str, place: str | None, grade: str | None) -> Start:
    if place is None:
        raise LedgerRuleError(
            "where do the stems stand? Name the place with --to PLACE, "
            "or the stems batch they join with --into ID"
        )
    return Start(
        crop=source.crop, cultivar=source.cultivar, place=place, stage=stage, unit="stems",
        count=stems, supplier=source.supplier, lot=source.lot, grade=grade, parents=(source.id,),
    )  # fmt: skip


def _check_target(
    book: Book, source: Batch, into: int, place: str | None, writing: Writing
) -> None:
    target, stay = alive(book, into, writing)
    if (target.crop, target.cultivar.casefold()) != (source.crop, source.cultivar.casefold()):
        raise LedgerRuleError(
            f"batch {into} is {target.crop} {target.cultivar}, batch {source.id} is {source.crop} "
            f"{source.cultivar}: stems of two cultivars stay apart; leave --into out"
        )
    if place is not None and place != stay.place:
        raise LedgerRuleError(
            f"batch {into} was in {stay.place} at {writing.say(writing.at_ms)}, not in {place}: "
            "leave --to out, or leave --into out to start another stems batch"
        )
