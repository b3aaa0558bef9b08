"""Part of a batch goes its own way; clumps become several."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from monitor.batches.counts import Count, counted, positive
from monitor.batches.fold import fold
from monitor.batches.rules.adding import Start
from monitor.batches.rules.writing import Builder, Writing, agreed, alive, check_unit
from monitor.errors import LedgerRuleError
from monitor.model import Batch, EntryKind, LedgerEntry, NewEntry
from monitor.phrase import Phrase


def split(
    batch: int,
    number: Count,
    writing: Writing,
    *,
    place: str | None = None,
    stage: str | None = None,
    units: Mapping[str, str] | None = None,
) -> Builder:
    """Record that part of a batch became a batch of its own, here or elsewhere.

    Parameters
    ----------
    batch : int
        The batch that is parted and keeps the rest.
    number : Count
        How many go.
    writing : Writing
        Who and when.
    place, stage : str, optional
        Where the part stands and its stage; the batch's own where not named.
    units : mapping, optional
        What each stage is counted in, by stage id.
    """

    def build(entries: Sequence[LedgerEntry]) -> Sequence[NewEntry]:
        found, stay = alive(fold(entries), batch, writing)
        positive(number, found.unit)
        then = fold(entries, writing.at_ms).batches[batch]
        _check_rest(then, number)
        at = stage or stay.stage
        unit = (units or {}).get(at, then.unit)
        check_unit(then, unit)
        part = replace(_same_kind(then), place=place or stay.place, stage=at, unit=unit)
        data = {"count": number.number, "rough": number.rough}
        new = [
            NewEntry(batch, EntryKind.SPLIT, writing.at_ms, writing.by, data),
            NewEntry(
                None, EntryKind.ADDED, writing.at_ms, writing.by,
                replace(part, count=number, parents=(batch,)).data(),
            ),
        ]  # fmt: skip
        return agreed(entries, new, writing)

    return build


def _same_kind(batch: Batch) -> Start:
    return Start(
        crop=batch.crop, cultivar=batch.cultivar, place="", stage="", unit=batch.unit,
        supplier=batch.supplier, lot=batch.lot, grade=batch.grade,
    )  # fmt: skip


def _check_rest(batch: Batch, number: Count) -> None:
    if batch.count is not None and batch.count == number.number and not batch.rough:
        raise LedgerRuleError(
            Phrase(
                "{count} are the whole of batch {batch}: move it instead: cormwatch batch move "
                "{batch} --to PLACE",
                count=counted(number.number, batch.unit),
                batch=batch.id,
            )
        )


def divide(batch: int, into: Count, writing: Writing, *, unit: str | None = None) -> Builder:
    """Record that clumps were divided: the count may grow, and never shrinks.

    Parameters
    ----------
    batch : int
        The batch's number.
    into : Count
        How many there are now.
    writing : Writing
        Who and when.
    unit : str, optional
        What they are called now; as before where not named.
    """

    def build(entries: Sequence[LedgerEntry]) -> Sequence[NewEntry]:
        found, _ = alive(fold(entries), batch, writing)
        positive(into, found.unit)
        then = fold(entries, writing.at_ms).batches[batch]
        _check_divided(then, into)
        data = {"count": into.number, "rough": into.rough, "unit": unit}
        new = [NewEntry(batch, EntryKind.DIVIDED, writing.at_ms, writing.by, data)]
        return agreed(entries, new, writing)

    return build


def _check_divided(batch: Batch, into: Count) -> None:
    if batch.unit == "stems":
        raise LedgerRuleError(
            Phrase(
                "batch {batch} is cut stems, which cannot be divided: use split",
                batch=batch.id,
            )
        )
    exact = batch.count is not None and not batch.rough and not into.rough
    if exact and batch.count is not None and into.number < batch.count:
        raise LedgerRuleError(
            Phrase(
                "dividing {count} of batch {batch} cannot leave {number}: record what was "
                "thrown away first: cormwatch batch out {batch} --culled N",
                count=counted(batch.count, batch.unit),
                batch=batch.id,
                number=into.number,
            )
        )
