"""An entry that was a mistake no longer counts; it stays in the record."""

from collections.abc import Sequence

from monitor.batches.fold import undone_groups
from monitor.batches.rules.writing import Builder, Writing, agreed
from monitor.errors import LedgerRuleError, UnknownNameError
from monitor.model import EntryKind, LedgerEntry, NewEntry
from monitor.model.batch import NO_BATCH
from monitor.phrase import Phrase


def undo(batch: int, writing: Writing, *, entry: int | None = None) -> Builder:
    """Annul an entry of a batch and all that was written with it.

    Parameters
    ----------
    batch : int
        The batch's number.
    writing : Writing
        Who and when; an undoing takes effect for all time.
    entry : int, optional
        The entry's number; the batch's newest entry that counts where not named.
    """

    def build(entries: Sequence[LedgerEntry]) -> Sequence[NewEntry]:
        found = _found(entries, batch, entry)
        touched = sorted({each.batch for each in entries if each.group == found.group})
        data = {"group": found.group, "entry": found.id, "what": found.kind.value}
        new = [
            NewEntry(each, EntryKind.UNDONE, writing.at_ms, writing.by, data) for each in touched
        ]
        return agreed(entries, new, writing)

    return build


def _found(entries: Sequence[LedgerEntry], batch: int, entry: int | None) -> LedgerEntry:
    own = [each for each in entries if each.batch == batch and each.batch != NO_BATCH]
    if not own:
        raise UnknownNameError(
            Phrase(
                "there is no batch {batch}: see cormwatch batch list --all",
                batch=batch,
            )
        )
    gone = undone_groups(entries)
    if entry is not None:
        return _named(own, gone, batch, entry)
    counting = [e for e in own if e.kind is not EntryKind.UNDONE and e.group not in gone]
    if not counting:
        raise LedgerRuleError(
            Phrase(
                "every entry of batch {batch} is undone already: nothing is left",
                batch=batch,
            )
        )
    return max(counting, key=lambda each: each.id)


def _named(own: Sequence[LedgerEntry], gone: set[int], batch: int, entry: int) -> LedgerEntry:
    found = next((each for each in own if each.id == entry), None)
    if found is None:
        raise UnknownNameError(
            Phrase(
                "batch {batch} has no entry {entry}: see cormwatch batch show {batch}",
                batch=batch,
                entry=entry,
            )
        )
    if found.kind is EntryKind.UNDONE:
        raise LedgerRuleError(
            Phrase(
                "entry {entry} is an undoing: record the thing again instead",
                entry=entry,
            )
        )
    if found.group in gone:
        raise LedgerRuleError(
            Phrase(
                "entry {entry} is undone already: it no longer counts",
                entry=entry,
            )
        )
    return found
