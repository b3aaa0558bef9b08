"""What a form offers to choose from, and what it already says."""

import secrets
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final, NamedTuple

from monitor.batches import open_batches
from monitor.batches.counts import counted
from monitor.batches.telling import say_entry
from monitor.farm import Crop, Place
from monitor.model import Batch, EntryKind, LedgerEntry, Stage
from monitor.phrase import Phrase, together
from monitor.web.look import Look
from monitor.web.recording.words import CLASSES, Words, length_unit
from monitor.web.words import KIND_WORDS

TITLES: Final[Mapping[str, str]] = {
    "look": Phrase("What did you see?"),
    "hold": Phrase("Hold for an order"),
    "move": Phrase("Move"),
    "harvest": Phrase("Harvest"),
    "out": Phrase("Out"),
    "add": Phrase("A batch begins"),
    "undo": Phrase("Undo"),
}
_ROOTLESS: Final = ("stems", "plants")
_HALVES: Final = {"0.25": "¼", "0.5": "½", "0.75": "¾", "1.25": "1¼", "1.5": "1½"}


class Choice(NamedTuple):
    """One thing to choose; ``key`` is what the form sends."""

    key: str
    name: str


@dataclass(frozen=True, slots=True)
class Sheet:
    """A form of one verb; ``last`` is what undoing would take back."""

    verb: str
    title: str
    token: str
    batches: list[Choice]
    places: list[Choice]
    stages: list[Choice]
    crops: list[Choice]
    cultivars: list[str]
    lengths: list[Choice]
    unit: str
    chosen: str
    roots: bool
    last: str
    said: Mapping[str, Any]


def new_token() -> str:
    """Return what one form is known again by."""
    return secrets.token_urlsafe(18)


def sheet(look: Look, verb: str, said: Mapping[str, Any], token: str = "") -> Sheet:
    """Return the form of a verb with what was typed, and what is usual where nothing was."""
    batch = _batch(look, str(said.get("batch", "")))
    last = _last(look, batch, str(said.get("entry", ""))) if verb == "undo" and batch else None
    unit = length_unit(look.farm.units)
    return Sheet(
        verb=verb, title=TITLES[verb], token=token or new_token(),
        batches=[_named(look, each) for each in _fitting(look, verb)],
        places=[Choice(each.id, each.name) for each in _places(look, verb)],
        stages=list(_stages(look, batch)),
        crops=[Choice(each.id, each.name) for each in look.farm.crops.values()],
        cultivars=sorted({each.cultivar for each in look.book.batches.values() if each.cultivar}),
        lengths=[Choice(each, _HALVES.get(each, each)) for each in CLASSES[unit]], unit=unit,
        chosen=_named(look, batch).name if batch else "",
        roots=batch is None or batch.unit not in _ROOTLESS,
        last="" if last is None or batch is None else _told(look, batch, last),
        said=Words().typed() | _usual(look, verb, last) | {k: v for k, v in said.items() if v},
    )  # fmt: skip


def _batch(look: Look, text: str) -> Batch | None:
    return look.book.batches.get(int(text)) if text.isascii() and text.isdecimal() else None


def _named(look: Look, batch: Batch) -> Choice:
    count = counted(batch.count, batch.unit, rough=batch.rough)
    return Choice(
        str(batch.id),
        Phrase(
            "{batch}, {count}, {place}",
            batch=look.batch(batch),
            count=count,
            place=look.place(batch.stays[-1].place),
        ),
    )


def _fitting(look: Look, verb: str) -> list[Batch]:
    """Return the batches that a verb is about: of growing ones stems are harvested."""
    here = open_batches(look.book)
    return [each for each in here if verb != "harvest" or each.unit == "plants"]


def _places(look: Look, verb: str) -> list[Place]:
    kinds = {
        kind
        for crop in look.farm.crops.values() for stage in crop.stages.values()
        if crop.unit(stage.id) == "stems" for kind in stage.place_kinds
    }  # fmt: skip
    every = look.farm.places.values()
    return [each for each in every if verb != "harvest" or not kinds or each.kind in kinds]


def _stages(look: Look, batch: Batch | None) -> Iterator[Choice]:
    """Yield the stages of a batch's crop, or those of every crop, each once."""
    own = look.farm.crops.get(batch.crop) if batch else None
    crops: Iterable[Crop] = [own] if own else look.farm.crops.values()
    found: dict[str, Stage] = {}
    for crop in crops:
        for stage in crop.stages.values():
            if batch is None or (crop.unit(stage.id) == "stems") is (batch.unit == "stems"):
                found.setdefault(stage.id, stage)
    for stage in found.values():
        kinds = together((KIND_WORDS[kind] for kind in stage.place_kinds), " / ")
        yield Choice(
            stage.id,
            Phrase("{name} ({kinds})", name=Phrase(stage.name), kinds=kinds)
            if kinds
            else Phrase(stage.name),
        )


def _usual(look: Look, verb: str, last: LedgerEntry | None) -> dict[str, str]:
    """Return what the form says before anything is typed: as it was the last time."""
    if verb == "harvest":
        return _usual_place(look)
    if verb == "out":
        sizes = [each for outs in look.book.outs.values() for each in outs if each.bunch_of]
        newest = max(sizes, key=lambda each: each.entry, default=None)
        return {"bunches_of": str(newest.bunch_of)} if newest else {}
    if verb == "add" and look.book.batches:
        return {"crop": max(look.book.batches.values(), key=lambda each: each.id).crop}
    return {"entry": str(last.id)} if last else {}


def _usual_place(look: Look) -> dict[str, str]:
    """Return where stems were put the last time, else the first place that keeps them."""
    known = [each.id for each in _places(look, "harvest")]
    into = [look.book.batches.get(each.into) for each in reversed(look.book.cuttings)]
    last = [each.stays[0].place for each in into if each and each.stays[0].place in known]
    return {"to": [*last, *known][0]} if known else {}


def _last(look: Look, batch: Batch, entry: str) -> LedgerEntry | None:
    """Return the entry to undo: the one named, else the newest that still counts."""
    own = [
        each
        for each in look.desk.ledger.entries()
        if each.batch == batch.id and each.kind is not EntryKind.UNDONE
    ]
    named = [each for each in own if str(each.id) == entry]
    counting = [each for each in own if each.id not in look.book.undone]
    return max(named or counting, key=lambda each: each.id, default=None)


def _told(look: Look, batch: Batch, entry: LedgerEntry) -> str:
    return Phrase(
        "{entry} ({time}, {by})",
        entry=say_entry(look.farm, batch, entry),
        time=look.time(entry.at_ms),
        by=entry.by,
    )
