"""A batch's own page: where it was, how it fared there, what was written down."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Final

from monitor.alarms.saying import say_span
from monitor.batches.counts import unit_word
from monitor.batches.history import History, StageHistory
from monitor.batches.outside import Depth, TimeOut
from monitor.batches.telling import crop_name, say_entry
from monitor.model import Batch, LedgerEntry, Quantity, Side
from monitor.phrase import Phrase, together
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
        Phrase("Crop"): crop_name(look.farm, batch.crop),
        Phrase("Cultivar"): batch.cultivar or None,
        Phrase("From"): batch.supplier,
        Phrase("Lot"): batch.lot,
        Phrase("Grade"): batch.grade,
        Phrase("Last counted"): counted,
        Phrase("Received"): _number(batch.received, batch.unit),
        Phrase("Rotten on arrival"): _number(batch.rotten, batch.unit),
        Phrase("Out of batch"): together((str(each) for each in batch.parents), ", ") or None,
    }
    return [Fact(name, value) for name, value in told.items() if value is not None]


def _number(count: int | None, unit: str) -> str | None:
    return (
        None if count is None else Phrase("{number:,} {noun}", number=count, noun=unit_word(unit))
    )


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
        place=together((look.place(each) for each in stage.places), ", then "),
        since=look.time(stage.since_ms),
        until=Phrase("now") if current else look.time(stage.until_ms),
        known=Phrase("{known} of {hours} h", known=_hours(known_s), hours=_hours(stage.length_s)),
        share=_share(share) if share is not None else "—",
        extremes=_extremes(look, air.low, air.high) if air else "—",
    )


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
    side = Phrase("above") if high else Phrase("below")
    most = Phrase("highest") if high else Phrase("lowest")
    name = look.quantity(out.quantity, out.place)
    span = say_span(out.duration_s)
    harm = (
        Phrase(", more than the {span} it may be", span=say_span(out.tolerated_s or 0))
        if out.too_long
        else ""
    )
    return Phrase(
        "{name} {side} {limit} for {span}{unseen}, {time} to {time_2}, {place}: "
        "{most} {figure}{harm}",
        name=name,
        side=side,
        limit=say_limit(out.limit, out.quantity, unit),
        span=span,
        unseen=_unseen(look, out),
        time=look.time(out.from_ms),
        time_2=look.time(out.until_ms),
        place=look.place(out.place),
        most=most,
        figure=look.figure(out.peak, out.quantity),
        harm=harm,
    )


def _unseen(look: Look, out: TimeOut) -> str:
    """Say what of a time out was not seen; one that lasts now is not over."""
    if not out.ended and look.now_ms - out.until_ms < _LASTS_MS:
        return Phrase(" and not over")
    if out.began and out.ended:
        return ""
    if out.began:
        return Phrase(" or longer (its end was not seen)")
    return Phrase(" or longer (its beginning was not seen)")


def written(look: Look, batch: Batch, entries: Sequence[LedgerEntry]) -> list[Written]:
    """Return the entries of a batch, the latest first."""
    return [
        Written(
            say_entry(look.farm, batch, each),
            Phrase(
                "{time} · {by} · entry {id}", time=look.time(each.at_ms), by=each.by, id=each.id
            ),
            each.id in look.book.undone,
        )
        for each in reversed(entries)
        if each.batch == batch.id
    ]
