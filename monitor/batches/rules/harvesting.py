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
from monitor.phrase import Phrase


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
            Phrase(
                "batch {batch} is at {stage}, where no stems are cut: harvest needs one of "
                "{stages}; move it first: cormwatch batch move {batch} --stage STAGE",
                batch=batch,
                stage=stage,
                stages=", ".join(growing),
            )
        )


def _check_cut(cut_ms: int | None, source: Batch, writing: Writing) -> None:
    if cut_ms is None:
        return
    if not source.stays[0].since_ms <= cut_ms <= writing.at_ms:
        raise LedgerRuleError(
            Phrase(
                "stems cannot be cut at {cut} and put away at {when}: --cut comes before --at, "
                "and after batch {source} began ({since})",
                cut=writing.say(cut_ms),
                when=writing.say(writing.at_ms),
                source=source.id,
                since=writing.say(source.stays[0].since_ms),
            )
        )


def _start(source: Batch, stems: Count, stage: str, place: str | None, grade: str | None) -> Start:
    if place is None:
        raise LedgerRuleError(
            Phrase(
                "where do the stems stand? Name the place with --to PLACE, "
                "or the stems batch they join with --into ID"
            )
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
            Phrase(
                "batch {into} is {crop} {cultivar}, batch {source} is {source_crop} "
                "{source_cultivar}: stems of two cultivars stay apart; leave --into out",
                into=into, crop=target.crop, cultivar=target.cultivar, source=source.id,
                source_crop=source.crop, source_cultivar=source.cultivar,
            )
        )  # fmt: skip
    if place is not None and place != stay.place:
        raise LedgerRuleError(
            Phrase(
                "batch {into} was in {there} at {when}, not in {place}: leave --to out, or "
                "leave --into out to start another stems batch",
                into=into,
                there=stay.place,
                when=writing.say(writing.at_ms),
                place=place,
            )
        )
