"""Batches as JSON: the shapes that others may rely on; more keys may come."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any, Final

from monitor.batches.book import Book, Cutting, Observation, Out
from monitor.model import Batch, LedgerEntry, PlaceState
from monitor.units import iso_utc

ENDED: Final = "ended"


def batches_json(
    book: Book, states: Mapping[int, PlaceState], *, ended: bool = False
) -> list[dict[str, Any]]:
    """Return the batches that are here, by number; with ``ended`` all there ever were.

    A batch that ``states`` does not name is ``unknown``.
    """
    return [
        batch_json(batch, book, states)
        for _, batch in sorted(book.batches.items())
        if ended or batch.ended_ms is None
    ]


def batch_json(batch: Batch, book: Book, states: Mapping[int, PlaceState]) -> dict[str, Any]:
    """Return one batch; place, stage and since are its last stay's."""
    last = batch.stays[-1]
    state = states.get(batch.id, PlaceState.UNKNOWN).value
    return {
        "id": batch.id, "crop": batch.crop, "cultivar": batch.cultivar or None,
        "count": batch.count, "rough": batch.rough, "unit": batch.unit,
        "counted_at": iso_utc(batch.counted_at_ms), "stage": last.stage, "place": last.place,
        "since": iso_utc(last.since_ms),
        "state": state if batch.ended_ms is None else ENDED,
        "began_at": iso_utc(batch.stays[0].since_ms), "ended_at": iso_utc(batch.ended_ms),
        "supplier": batch.supplier, "lot": batch.lot, "grade": batch.grade,
        "received": batch.received, "rotten": batch.rotten, "parents": list(batch.parents),
        "held": [{"for": hold.held_for, "count": hold.count} for hold in book.holds[batch.id]],
    }  # fmt: skip


def batch_details_json(
    batch: Batch, book: Book, entries: Sequence[LedgerEntry], states: Mapping[int, PlaceState]
) -> dict[str, Any]:
    """Return one batch with its stays, its entries (who and when), what was seen, what left."""
    cuttings = [each for each in book.cuttings if batch.id in (each.source, each.into)]
    return batch_json(batch, book, states) | {
        "stays": [
            {
                "place": stay.place, "stage": stay.stage,
                "since": iso_utc(stay.since_ms), "until": iso_utc(stay.until_ms),
            }
            for stay in batch.stays
        ],
        "entries": [entry_json(e, book) for e in entries if e.batch == batch.id],
        "observations": [_observation_json(each) for each in book.observations[batch.id]],
        "outs": [_out_json(each) for each in book.outs[batch.id]],
        "cuttings": [_cutting_json(each) for each in cuttings],
    }  # fmt: skip


def entry_json(entry: LedgerEntry, book: Book) -> dict[str, Any]:
    """Return one entry as it stands in the record; ``undone`` where it no longer counts."""
    return {
        "id": entry.id, "batch": entry.batch, "kind": entry.kind.value,
        "at": iso_utc(entry.at_ms), "recorded_at": iso_utc(entry.recorded_ms), "by": entry.by,
        "undone": entry.id in book.undone, "data": dict(entry.data),
    }  # fmt: skip


def _observation_json(seen: Observation) -> dict[str, Any]:
    found: dict[str, Any] = {
        "entry": seen.entry, "at": iso_utc(seen.at_ms), "by": seen.by, "roots": None,
        "mould": seen.mould, "softness": seen.softness, "moisture": seen.moisture,
        "culls": seen.culls, "all_fine": seen.all_fine, "note": seen.note, "count": seen.count,
        "rough": seen.rough, "held_for": seen.held_for, "held": seen.held,
    }  # fmt: skip
    if seen.roots is not None:
        found["roots"] = asdict(seen.roots) | {"lengths_mm": list(seen.roots.lengths_mm)}
    return found


def _out_json(out: Out) -> dict[str, Any]:
    return {
        "entry": out.entry, "at": iso_utc(out.at_ms), "by": out.by, "purpose": out.purpose.value,
        "count": out.count, "rough": out.rough, "bunches": out.bunches,
        "bunch_of": out.bunch_of, "to": out.to,
    }  # fmt: skip


def _cutting_json(cutting: Cutting) -> dict[str, Any]:
    return {
        "entry": cutting.entry, "from": cutting.source, "into": cutting.into,
        "at": iso_utc(cutting.at_ms), "cut_at": iso_utc(cutting.cut_ms),
        "count": cutting.count, "rough": cutting.rough,
    }  # fmt: skip
