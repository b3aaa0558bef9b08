"""A batch goes to another place, or to its next stage."""

from collections.abc import Mapping, Sequence

from monitor.batches.book import stay_at
from monitor.batches.fold import fold
from monitor.batches.rules.writing import Builder, Writing, agreed, alive, check_unit
from monitor.errors import LedgerRuleError
from monitor.model import EntryKind, LedgerEntry, NewEntry
from monitor.phrase import Phrase


def move(
    batch: int,
    writing: Writing,
    *,
    place: str | None = None,
    stage: str | None = None,
    units: Mapping[str, str] | None = None,
) -> Builder:
    """Record that a batch came to a place or stage; what is not named stays as it was then.

    Parameters
    ----------
    batch : int
        The batch's number.
    writing : Writing
        Who and when. A time before the newest stay is put between the stays it falls in.
    place, stage : str, optional
        Ids; at least one.
    units : mapping, optional
        What each stage is counted in, by stage id.
    """

    def build(entries: Sequence[LedgerEntry]) -> Sequence[NewEntry]:
        found, stay = alive(fold(entries), batch, writing)
        to = (place or stay.place, stage or stay.stage)
        unit = (units or {}).get(to[1])
        before = stay_at(found, writing.at_ms)
        if before is not None and to == (before.place, before.stage):
            raise LedgerRuleError(
                Phrase(
                    "batch {batch} was in {place} at {stage} already at {when}: name another place "
                    "or --stage",
                    batch=batch,
                    place=to[0],
                    stage=to[1],
                    when=writing.say(writing.at_ms),
                )
            )
        then = fold(entries, writing.at_ms).batches[batch]
        check_unit(then, unit or then.unit)
        data = {"place": to[0], "stage": to[1], "unit": unit}
        new = [NewEntry(batch, EntryKind.MOVED, writing.at_ms, writing.by, data)]
        return agreed(entries, new, writing)

    return build
