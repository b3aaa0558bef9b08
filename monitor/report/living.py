"""What one batch came to: what was planted and cut, beside the conditions it lived through."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from monitor.batches import fold, stay_at
from monitor.batches.book import Purpose
from monitor.batches.history import History, StageHistory
from monitor.batches.outside import Depth
from monitor.batches.readiness import ROOTING_STAGE
from monitor.farm import Farm
from monitor.model import Batch, Quantity
from monitor.report.subject import Record

DAY_MS: Final = 86_400_000


@dataclass(frozen=True, slots=True)
class Yield:
    """Numbers by the records; None where none was recorded.

    ``planted`` is the count as it came to its first stage of plants; ``stems`` what was
    cut of it and of what was split from it; ``culls`` what was thrown away, stems too.
    """

    received: int | None
    rotten: int | None
    planted: int | None
    planted_ms: int | None
    first_cut_ms: int | None
    stems: int
    culls: int
    rough: bool

    @property
    def stems_a_corm(self) -> float | None:
        """Return the stems cut for each corm planted."""
        if not self.planted or self.first_cut_ms is None:
            return None
        return self.stems / self.planted


def offspring(record: Record, number: int) -> list[Batch]:
    """Return a batch and all that was split or cut from it."""
    found, waiting = [], [number]
    while waiting:
        each = waiting.pop(0)
        found.append(record.book.batches[each])
        waiting += [b.id for b in record.book.batches.values() if each in b.parents]
    return found


def yield_of(farm: Farm, record: Record, batch: Batch) -> Yield:
    """Return what a batch came to, with what was parted from it."""
    family = offspring(record, batch.id)
    ids = {each.id for each in family}
    cuttings = [each for each in record.book.cuttings if each.source in ids]
    planted = [found for each in family for found in _planted(farm, record, each, ids)]
    outs = [out for each in ids for out in record.book.outs[each]]
    return Yield(
        received=batch.received if batch.received is not None else _first_count(record, batch),
        rotten=batch.rotten,
        planted=sum(count for _, count in planted) if planted else None,
        planted_ms=min((at_ms for at_ms, _ in planted), default=None),
        first_cut_ms=min((each.cut_ms for each in cuttings), default=None),
        stems=sum(each.count for each in cuttings),
        culls=sum(out.count for out in outs if out.purpose is Purpose.CULLED),
        rough=any(each.rough for each in cuttings) or any(each.rough for each in family),
    )


def _first_count(record: Record, batch: Batch) -> int | None:
    first = next((each for each in record.entries if each.batch == batch.id), None)
    count = first.data.get("count") if first else None
    return None if count is None else int(count)


def _planted(
    farm: Farm, record: Record, batch: Batch, family: set[int]
) -> Iterator[tuple[int, int]]:
    """Yield when and how many a batch was as it became plants, unless its parent was already."""
    crop = farm.crops.get(batch.crop)
    if crop is None or batch.unit == "stems":
        return
    plants = {each for each in crop.stages if crop.unit(each) == "plants"}
    first = next((stay for stay in batch.stays if stay.stage in plants), None)
    if first is None:
        return
    for parent in set(batch.parents) & family:
        then = stay_at(record.book.batches[parent], batch.stays[0].since_ms - 1)
        if then is not None and then.stage in plants:
            return
    then_book = fold(record.entries, first.since_ms)
    count = then_book.batches[batch.id].count if batch.id in then_book.batches else None
    if count is not None:
        yield first.since_ms, count


@dataclass(frozen=True, slots=True)
class Conditions:
    """How a stage was: days, hours known, in band, mean air [°C], thermal time, harm [h]."""

    days: float
    coverage: float
    in_band: float | None
    mean_c: float | None
    thermal_cd: float | None
    out_h: float | None
    harm_h: float


def conditions(history: History, stage: str = ROOTING_STAGE) -> Conditions | None:
    """Return how a stage of a batch was, or None where it was not in it."""
    told = next((each for each in history.stages if each.stage == stage), None)
    return None if told is None else _conditions(told)


def _conditions(told: StageHistory) -> Conditions:
    air = told.quantities.get(Quantity.TEMPERATURE)
    outs = [out for out in air.excursions if out.depth is Depth.HARM] if air else []
    out_s = None if air is None or air.in_band_s is None else air.known_s - air.in_band_s
    return Conditions(
        days=told.length_s / 86_400,
        coverage=told.coverage,
        in_band=told.in_band_share,
        mean_c=air.mean if air else None,
        thermal_cd=told.thermal_time_cd,
        out_h=None if out_s is None or air is None or air.known_s <= 0 else out_s / 3600,
        harm_h=sum(out.duration_s for out in outs) / 3600,
    )


def whole(told: Sequence[StageHistory]) -> float | None:
    """Return the share of a batch's whole life whose air is known."""
    length_s = sum(each.length_s for each in told)
    return sum(each.coverage * each.length_s for each in told) / length_s if length_s else None
