"""What is in a place by the grower's records: how many, and when last counted."""

from collections.abc import Mapping, Sequence
from zoneinfo import ZoneInfo

from monitor.alarms.saying import say_day, say_list
from monitor.batches.book import Hold
from monitor.batches.counts import say_count
from monitor.model import Batch
from monitor.phrase import Phrase, together


def say_contents(
    batches: Sequence[Batch], holds: Mapping[int, tuple[Hold, ...]], zone: ZoneInfo, now_ms: int
) -> str:
    """Return a sentence on the batches of a place, as one reads it at 3 a.m.

    ``"In there by your records: about 640 stems, 3 batches, last counted Tuesday; 120 held
    for Saturday's wedding."``
    """
    if not batches:
        return Phrase("Nothing is in there by your records.")
    number = (
        Phrase("1 batch") if len(batches) == 1 else Phrase("{number} batches", number=len(batches))
    )
    parts = [*_counts(batches), number, *_counted(batches, zone, now_ms)]
    held = [
        Phrase("{count:,} held for {held_for}", count=hold.count, held_for=hold.held_for)
        for batch in batches
        for hold in holds.get(batch.id, ())
    ]
    return Phrase(
        "In there by your records: {what}.", what=together([together(parts, ", "), *held], "; ")
    )


def _counts(batches: Sequence[Batch]) -> list[str]:
    """Return the sums per unit; about, where any count is rough or none was given."""
    sums: dict[str, int] = {}
    rough: set[str] = set()
    for batch in batches:
        if batch.count is not None:
            sums[batch.unit] = sums.get(batch.unit, 0) + batch.count
        if batch.rough or batch.count is None:
            rough.add(batch.unit)
    counts = [say_count(number, unit, rough=unit in rough) for unit, number in sums.items()]
    return [say_list(counts)] if counts else []


def _counted(batches: Sequence[Batch], zone: ZoneInfo, now_ms: int) -> list[str]:
    times = [batch.counted_at_ms for batch in batches if batch.counted_at_ms is not None]
    return [Phrase("last counted {day}", day=say_day(max(times), zone, now_ms))] if times else []
