"""Batches in a line each, and what each needs next."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from monitor.alarms.saying import say_span
from monitor.batches.counts import counted
from monitor.batches.telling import crop_name
from monitor.model import Batch
from monitor.phrase import Capital, Phrase
from monitor.watch import Due
from monitor.web.look import Look, standing_of
from monitor.web.words import Standing

_DAY_MS: Final = 86_400_000
SOON_MS: Final = 7 * _DAY_MS


@dataclass(frozen=True, slots=True)
class Lot:
    """One batch, ready to be written down."""

    id: int
    name: str
    crop: str
    standing: Standing
    count: str
    held: tuple[str, ...]
    stage: str
    place_id: str
    place: str
    since: str
    due: str
    late: bool
    ways: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Step:
    """A stage of the board with its batches."""

    name: str
    lots: tuple[Lot, ...]


def lot(look: Look, batch: Batch) -> Lot:
    """Return one batch in a line."""
    last = batch.stays[-1]
    due = next((each for each in look.watch.plan.dues if each.batch == batch.id), None)
    return Lot(
        id=batch.id, name=look.batch(batch), crop=crop_name(look.farm, batch.crop),
        standing=standing_of(look.batch_status(batch)),
        count=counted(batch.count, batch.unit, rough=batch.rough),
        held=_held(look, batch),
        stage=look.stage(batch, last.stage), place_id=last.place, place=look.place(last.place),
        since=_since(look, batch), due="" if due is None else say_due(look, batch, due),
        late=due is not None and due.ends_ms <= look.now_ms,
        ways=() if batch.ended_ms is not None else _ways(batch),
    )  # fmt: skip


def _ways(batch: Batch) -> tuple[tuple[str, str], ...]:
    """Return the forms of a batch, what is done to it most at first: page and word."""
    look, move, out = ("look", Phrase("Look")), ("move", Phrase("Move")), ("out", Phrase("Out"))
    if batch.unit == "stems":
        return out, ("hold", Phrase("Hold")), look, move
    return (
        (("harvest", Phrase("Harvest")), look, move, out)
        if batch.unit == "plants"
        else (look, move, out)
    )


def _held(look: Look, batch: Batch) -> tuple[str, ...]:
    return tuple(
        Phrase("{count:,} held for {held_for}", count=each.count, held_for=each.held_for)
        for each in look.book.holds.get(batch.id, ())
    )


def _since(look: Look, batch: Batch) -> str:
    last = batch.stays[-1]
    if batch.ended_ms is not None:
        return Phrase("ended {time}", time=look.time(batch.ended_ms))
    day = (look.now_ms - last.since_ms) // _DAY_MS + 1
    return Phrase("since {time}, day {day}", time=look.time(last.since_ms), day=day)


def say_due(look: Look, batch: Batch, due: Due) -> str:
    """Return when a stage should be over: ``"Soak: move on by 16:40 at the latest, in 45 min"``."""
    name = look.stage(batch, due.stage)
    stage = Capital(name)
    span = say_span(abs(due.ends_ms - look.now_ms) / 1000)
    if due.ends_ms <= look.now_ms:
        return Phrase(
            "{stage}: was to move on by {time}, {span} ago",
            stage=stage,
            time=look.time(due.ends_ms),
            span=span,
        )
    return Phrase(
        "{stage}: move on by {time} at the latest, in {span}",
        stage=stage,
        time=look.time(due.ends_ms),
        span=span,
    )


def next_due(look: Look) -> list[Lot]:
    """Return the batches whose stage ends within a week or should have, soonest first."""
    dues = sorted(look.watch.plan.dues, key=lambda each: (each.ends_ms, each.batch))
    soon = [each.batch for each in dues if each.ends_ms - look.now_ms <= SOON_MS]
    return [lot(look, look.book.batches[each]) for each in soon if each in look.book.batches]


def board(look: Look, batches: Iterable[Batch]) -> list[Step]:
    """Return batches by stage, in the order of a crop's life."""
    ids = list(dict.fromkeys(each for crop in look.farm.crops.values() for each in crop.stages))
    found: dict[str, list[Lot]] = {}
    for batch in batches:
        found.setdefault(batch.stays[-1].stage, []).append(lot(look, batch))
    ranked = sorted(found, key=lambda each: ids.index(each) if each in ids else len(ids))
    return [Step(found[stage][0].stage, tuple(found[stage])) for stage in ranked]
