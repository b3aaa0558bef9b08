"""What every verb shares: who and when, the batch it names, and the proof that it fits."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final
from zoneinfo import ZoneInfo

from monitor.batches.book import Book, Contradiction, stay_at
from monitor.batches.counts import unit_word
from monitor.batches.fold import fold
from monitor.batches.plain_text import NAME_AT_MOST, check_texts, printable
from monitor.errors import LedgerRuleError, UnknownNameError
from monitor.farm import format_when
from monitor.model import Batch, LedgerEntry, NewEntry, Stay
from monitor.phrase import Phrase

Builder = Callable[[Sequence[LedgerEntry]], Sequence[NewEntry]]

FUTURE_MS: Final = 60_000
UTC: Final = ZoneInfo("UTC")
EARLIEST_MS: Final = 946_684_800_000  # 2000-01-01: before it no farm's record begins


@dataclass(frozen=True, slots=True)
class Writing:
    """Who makes an entry, when it takes effect, and when it is written. [ms]

    ``zone`` is the farm's, for the times in refusals.
    """

    by: str
    at_ms: int
    now_ms: int
    zone: ZoneInfo = UTC

    def say(self, at_ms: int) -> str:
        """Return a time as the farm reads it."""
        return format_when(at_ms, self.zone)

    def check(self) -> None:
        """Refuse a time that has not come, one before all records, and a nameless writer.

        Raises
        ------
        LedgerRuleError
            If one of them is so.
        """
        if not self.by.strip():
            raise LedgerRuleError(
                Phrase("nobody is named as the writer: give a name with --by NAME")
            )
        printable(self.by, NAME_AT_MOST, Phrase("the writer's name"))
        if self.at_ms > self.now_ms + FUTURE_MS:
            raise LedgerRuleError(
                Phrase(
                    "{when} is in the future (it is {now} now): record it once it has happened, or "
                    "correct --at",
                    when=self.say(self.at_ms),
                    now=self.say(self.now_ms),
                )
            )
        if self.at_ms < EARLIEST_MS:
            raise LedgerRuleError(
                Phrase(
                    "{when} is before the year 2000: correct --at",
                    when=self.say(self.at_ms),
                )
            )


def known(book: Book, batch: int) -> Batch:
    """Return a batch of the ledger.

    Raises
    ------
    UnknownNameError
        If there is none of this number.
    """
    if batch in book.batches:
        return book.batches[batch]
    here = [str(each.id) for each in book.batches.values() if each.ended_ms is None]
    there = (
        Phrase("open batches are {numbers}", numbers=", ".join(here))
        if here
        else Phrase("no batch is open")
    )
    raise UnknownNameError(
        Phrase(
            "there is no batch {batch}: {there}; see cormwatch batch list --all",
            batch=batch,
            there=there,
        )
    )


def alive(book: Book, batch: int, writing: Writing) -> tuple[Batch, Stay]:
    """Return a batch and the stay it was in at the time of writing.

    Raises
    ------
    UnknownNameError
        If there is no such batch.
    LedgerRuleError
        If it had ended by then, or was not here yet.
    """
    found = known(book, batch)
    stay = stay_at(found, writing.at_ms)
    if stay is not None:
        return found, stay
    if found.ended_ms is not None and writing.at_ms >= found.ended_ms:
        raise LedgerRuleError(
            Phrase(
                "batch {batch} ended on {ended}: nothing more can be recorded for it; undo its "
                "end first: cormwatch batch undo {batch}",
                batch=batch,
                ended=writing.say(found.ended_ms),
            )
        )
    raise LedgerRuleError(
        Phrase(
            "batch {batch} has been here only since {since}: {when} is before that; give a "
            "later time with --at",
            batch=batch,
            since=writing.say(found.stays[0].since_ms),
            when=writing.say(writing.at_ms),
        )
    )


def _provisional(
    entries: Sequence[LedgerEntry], new: Sequence[NewEntry], writing: Writing
) -> Iterator[LedgerEntry]:
    """Return the new entries as they would stand in the ledger."""
    last = max((entry.id for entry in entries), default=0)
    group = max((entry.group for entry in entries), default=0) + 1
    batch = max((entry.batch for entry in entries), default=0) + 1
    for number, each in enumerate(new, start=last + 1):
        yield LedgerEntry(
            id=number, group=group, batch=batch if each.batch is None else each.batch,
            kind=each.kind, at_ms=each.at_ms, recorded_ms=writing.now_ms, by=each.by,
            data=each.data,
        )  # fmt: skip


def written(
    entries: Sequence[LedgerEntry], new: Sequence[NewEntry], writing: Writing
) -> list[LedgerEntry]:
    """Return the ledger as it would stand with the new entries."""
    return [*entries, *_provisional(entries, new, writing)]


def agreed(
    entries: Sequence[LedgerEntry], new: Sequence[NewEntry], writing: Writing
) -> Sequence[NewEntry]:
    """Return the new entries if the whole ledger still holds with them.

    Raises
    ------
    LedgerRuleError
        If they contradict an entry, or an entry would contradict them.
    """
    writing.check()
    for each in new:
        check_texts(each.data)
    before = {fault.entry for fault in fold(entries).contradictions}
    after = fold(written(entries, new, writing)).contradictions
    fresh = [fault for fault in after if fault.entry not in before]
    if fresh:
        last = max((entry.id for entry in entries), default=0)
        raise LedgerRuleError(_refusal(fresh[0], last, writing))
    return new


def _refusal(fault: Contradiction, last: int, writing: Writing) -> str:
    if fault.entry > last:
        return fault.message
    return Phrase(
        "this does not fit what was recorded for {when} (entry {entry}): {why}; or undo that "
        "entry: cormwatch batch undo {batch} --entry {entry}",
        when=writing.say(fault.at_ms),
        entry=fault.entry,
        why=fault.message,
        batch=fault.batch,
    )


def check_unit(batch: Batch, unit: str) -> None:
    """Refuse to make stems of plants, or plants of stems, by a change of stage.

    Raises
    ------
    LedgerRuleError
        If one becomes the other.
    """
    if unit == "stems" and batch.unit != "stems":
        raise LedgerRuleError(
            Phrase(
                "batch {batch} is {unit}, not cut stems: use cormwatch batch harvest {batch} "
                "--stems N --to PLACE, which keeps the growing batch",
                batch=batch.id,
                unit=unit_word(batch.unit),
            )
        )
    if batch.unit == "stems" and unit != "stems":
        raise LedgerRuleError(
            Phrase(
                "batch {batch} is cut stems, which cannot become {unit} again: name a stage of "
                "cut stems, or undo the entry that was wrong",
                batch=batch.id,
                unit=unit_word(unit),
            )
        )
