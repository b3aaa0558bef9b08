"""From words to what the rules of the ledger take: one function a verb."""

from collections.abc import Callable, Mapping
from typing import Final, NamedTuple

from monitor.batches.asked.words import Asked, Plan
from monitor.batches.book import Purpose
from monitor.batches.counts import parse_batch_id, parse_count
from monitor.batches.placing import kind_word
from monitor.batches.rules import (
    Leaving,
    Seen,
    Start,
    add,
    divide,
    end,
    harvest,
    move,
    observe,
    out,
    split,
    undo,
)
from monitor.batches.sampling import parse_length_mm, parse_roots
from monitor.errors import LedgerRuleError
from monitor.farm import Crop, find_crop, find_place, find_stage
from monitor.model import PlaceKind, Stage
from monitor.phrase import Phrase


class _Going(NamedTuple):
    """The place and stage a batch goes to, and what its stages are counted in."""

    place: str | None
    stage: str | None
    units: Mapping[str, str]


def plan(verb: str, asked: Asked) -> Plan:
    """Return what is to be written for a verb of `VERBS`.

    Raises
    ------
    LedgerRuleError
        If the words cannot be meant so.
    UnknownNameError
        If they name what does not exist.
    """
    return VERBS[verb](asked)


def _add(asked: Asked) -> Plan:
    crop = find_crop(asked.farm, asked.needed("crop", Phrase("which crop? Name it")))
    stage = find_stage(crop, asked.needed("stage", Phrase("at which stage? Name it")))
    where = asked.needed("place", Phrase("where does it stand? Name the place"))
    place = find_place(asked.farm, where)
    start = Start(
        crop=crop.id, cultivar=asked.needed("cultivar", Phrase("which cultivar? Name it")).strip(),
        stage=stage.id, unit=crop.unit(stage.id), place=place.id, count=asked.count("count"),
        supplier=asked.text("supplier"), lot=asked.text("lot"), grade=asked.text("grade"),
        note=asked.text("note"), received=asked.exact("received"), rotten=asked.exact("rotten"),
    )  # fmt: skip
    return Plan(add(start, asked.writing), None)


def _going(asked: Asked) -> _Going:
    crop, to, at = asked.crop(), asked.text("to"), asked.text("stage")
    place = None if to is None else find_place(asked.farm, to).id
    stage = None if at is None else find_stage(crop, at).id
    if place is None and stage is None:
        raise LedgerRuleError(
            Phrase("where to? Name the place with --to PLACE, or the stage with --stage")
        )
    return _Going(place, stage, {each: crop.unit(each) for each in crop.stages})


def _move(asked: Asked) -> Plan:
    batch, (place, stage, units) = asked.batch_id(), _going(asked)
    return Plan(move(batch, asked.writing, place=place, stage=stage, units=units), batch)


def _split(asked: Asked) -> Plan:
    batch, (place, stage, units) = asked.batch_id(), _going(asked)
    number = parse_count(asked.needed("count", Phrase("how many go? Say it")))
    return Plan(split(batch, number, asked.writing, place=place, stage=stage, units=units), batch)


def _harvest(asked: Asked) -> Plan:
    batch, crop = asked.batch_id(), asked.crop()
    stage, joined, to = _cut_stage(crop), asked.text("into"), asked.text("to")
    into = None if joined is None else parse_batch_id(joined)
    stems = parse_count(asked.needed("stems", Phrase("how many were cut? Say it")))
    build = harvest(
        batch, stems, asked.writing,
        growing=[each for each in crop.stages if crop.unit(each) == "plants"],
        stage=stage.id,
        place=None if to is None else _stems_place(asked, stage.place_kinds, to),
        into=into, cut_ms=asked.when("cut"), grade=asked.text("grade"),
    )  # fmt: skip
    return Plan(build, batch if into is None else into)


def _cut_stage(crop: Crop) -> Stage:
    for stage in crop.stages.values():
        if crop.unit(stage.id) == "stems":
            return stage
    raise LedgerRuleError(
        Phrase("{crop} has no stage of cut stems: add one in crops.toml", crop=Phrase(crop.name))
    )


def _stems_place(asked: Asked, kinds: tuple[PlaceKind, ...], text: str) -> str:
    """Return the place that stems are put in: one of the kinds they are kept in."""
    place = find_place(asked.farm, text)
    if kinds and place.kind not in kinds:
        fitting = [each.name for each in asked.farm.places.values() if each.kind in kinds]
        raise LedgerRuleError(
            Phrase(
                "{place} is a {kind}, where no cut stems are kept: name one of {fitting}",
                place=place.name,
                kind=kind_word(place.kind),
                fitting=", ".join(fitting) or Phrase("none yet; add a cooler in farm.toml"),
            )
        )
    return place.id


def _out(asked: Asked) -> Plan:
    batch, bunch_of = asked.batch_id(), asked.exact("bunches_of")
    leavings = [
        Leaving(purpose, number, bunch_of, asked.text("to"))
        for purpose in Purpose
        if (number := asked.count(purpose.value)) is not None
    ]
    return Plan(out(batch, leavings, asked.writing), batch)


def _observe(asked: Asked) -> Plan:
    batch, roots, length = asked.batch_id(), asked.text("roots"), asked.text("at_length")
    at_length_mm = None if length is None else parse_length_mm(length)
    seen = Seen(
        roots=None if roots is None else parse_roots(roots, at_length_mm),
        mould=asked.text("mould"), softness=asked.text("softness"),
        moisture=asked.text("moisture"), culls=asked.exact("culls"),
        all_fine="all_fine" in asked.words, note=asked.text("note"),
        count=asked.count("count"), held_for=asked.text("held_for"), held=asked.exact("stems"),
    )  # fmt: skip
    return Plan(observe(batch, seen, asked.writing), batch)


def _divide(asked: Asked) -> Plan:
    batch = asked.batch_id()
    into = parse_count(asked.needed("into", Phrase("how many are there now? Say it")))
    return Plan(divide(batch, into, asked.writing, unit=asked.text("unit")), batch)


def _end(asked: Asked) -> Plan:
    batch = asked.batch_id()
    return Plan(end(batch, asked.words.get("why", ""), asked.writing), batch)


def _undo(asked: Asked) -> Plan:
    batch = asked.batch_id()
    return Plan(undo(batch, asked.writing, entry=asked.exact("entry")), batch)


VERBS: Final[Mapping[str, Callable[[Asked], Plan]]] = {
    "add": _add, "move": _move, "harvest": _harvest, "out": _out, "observe": _observe,
    "split": _split, "divide": _divide, "end": _end, "undo": _undo,
}  # fmt: skip
"""What may be asked, by the names of the commands."""
