"""A batch's own page: where it was, how it fared there, what was written down."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Final

from monitor.alarms.saying import say_span
from monitor.batches.history import History, StageHistory
from monitor.batches.outside import Depth, TimeOut
from monitor.batches.telling import crop_name, say_entry
from monitor.model import Batch, LedgerEntry, Quantity, Side
from monitor.report.making import Report, Sources, make_report
from monitor.web.look import Look
from monitor.web.words import say_between, say_limit

_LASTS_MS: Final = 900_000
OUTS_SHOWN: Final = 30


@dataclass(frozen=True, slots=True)
class Fact:
    """Something known of a batch."""

    name: str
    value: str


@dataclass(frozen=True, slots=True)
class Past:
    """A stage of a batch's life, ready to be written down."""

    stage: str
    place: str
    since: str
    until: str
    known: str
    share: str
    extremes: str


@dataclass(frozen=True, slots=True)
class Written:
    """An entry of the record."""

    text: str
    who: str
    undone: bool


def reported(look: Look, number: int) -> Report:
    """Return the report of a batch: its history by the limits in force then, and the verdict.

    Raises
    ------
    UnknownNameError
        If there is no such batch.
    """
    return make_report(sources(look), number)


def sources(look: Look) -> Sources:
    """Return what a report is made from."""
    return Sources(look.farm, look.desk.ledger, look.desk.reader(), look.now_ms)


def facts(look: Look, batch: Batch) -> list[Fact]:
    """Return what is known of a batch, in words."""
    counted = look.time(batch.counted_at_ms) if batch.counted_at_ms is not None else None
    told = {
        "Crop": crop_name(look.farm, batch.crop), "Cultivar": batch.cultivar or None,
        "From": batch.supplier, "Lot": batch.lot, "Grade": batch.grade,
        "Last counted": counted, "Received": _number(batch.received, batch.unit),
        "Rotten on arrival": _number(batch.rotten, batch.unit),
        "Out of batch": ", ".join(str(each) for each in batch.parents) or None,
    }  # fmt: skip
    return [Fact(name, value) for name, value in told.items() if value is not None]


def _number(count: int | None, unit: str) -> str | None:
    return None if count is None else f"{count:,} {unit}"


def pasts(look: Look, batch: Batch, lived_through: History) -> list[Past]:
    """Return the stages of a batch's life, the latest first."""
    return [_past(look, batch, each) for each in reversed(lived_through.stages)]


def _past(look: Look, batch: Batch, stage: StageHistory) -> Past:
    air = stage.quantities.get(Quantity.TEMPERATURE)
    known_s = air.known_s if air else 0.0
    share = stage.in_band_share
    current = batch.stay is not None and batch.stay.stage == stage.stage
    return Past(
        stage=look.stage(batch, stage.stage),
        place=", then ".join(look.place(each) for each in stage.places),
        since=look.time(stage.since_ms), until="now" if current else look.time(stage.until_ms),
        known=f"{_hours(known_s)} of {_hours(stage.length_s)} h",
        share=_share(share) if share is not None else "—",
        extremes=_extremes(look, air.low, air.high) if air else "—",
    )  # fmt: skip


def _share(share: float) -> str:
    """Return a share in percent, never rounding up to the whole."""
    return f"{min(99.0, share * 100) if share < 1 else 100:.0f} %"


def _hours(seconds: float) -> str:
    return f"{seconds / 3600:,.0f}"


def _extremes(look: Look, low: float | None, high: float | None) -> str:
    if low is None or high is None or not (isfinite(low) and isfinite(high)):
        return "—"
    return say_between(low, high, Quantity.TEMPERATURE, look.farm.units)


def outs(look: Look, lived_through: History) -> list[str]:
    """Return the times out of band, harm first, then the latest; short drift comes last."""
    found = [out for stage in lived_through.stages for out in stage.excursions]
    found.sort(key=lambda out: (not out.too_long, out.depth is Depth.DRIFT, -out.from_ms))
    return [_out(look, each) for each in found]


def _out(look: Look, out: TimeOut) -> str:
    unit, high = look.farm.units, out.side is Side.HIGH
    side, most = ("above", "highest") if high else ("below", "lowest")
    name = look.quantity(out.quantity, out.place)
    span = say_span(out.duration_s)
    harm = f", more than the {say_span(out.tolerated_s or 0)} it may be" if out.too_long else ""
    return (
        f"{name} {side} {say_limit(out.limit, out.quantity, unit)} for {span}{_unseen(look, out)}, "
        f"{look.time(out.from_ms)} to {look.time(out.until_ms)}, {look.place(out.place)}: "
        f"{most} {look.figure(out.peak, out.quantity)}{harm}"
    )


def _unseen(look: Look, out: TimeOut) -> str:
    """Say what of a time out was not seen; one that lasts now is not over."""
    if not out.ended and look.now_ms - out.until_ms < _LASTS_MS:
        return " and not over"
    if out.began and out.ended:
        return ""
    return f" or longer (its {'end' if out.began else 'beginning'} was not seen)"


def written(look: Look, batch: Batch, entries: Sequence[LedgerEntry]) -> list[Written]:
    """Return the entries of a batch, the latest first."""
    return [
        Written(
            say_entry(look.farm, batch, each),
            f"{look.time(each.at_ms)} · {each.by} · entry {each.id}",
            each.id in look.book.undone,
        )
        for each in reversed(entries)
        if each.batch == batch.id
    ]
