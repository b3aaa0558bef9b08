"""``cormwatch batch``: what is here, what came, went and was seen.

Every verb reads and writes the ledger alone, so it works with the daemon running or
stopped. A refusal writes nothing.
"""

import argparse
from collections.abc import Callable
from functools import partial

from monitor.batches import Purpose
from monitor.batches.counts import Count, parse_batch_id, parse_count
from monitor.batches.listing import batch_details_json, batches_json
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
from monitor.batches.telling import say_batch, say_batches, say_ended, say_record, say_stays
from monitor.cli.batch_arguments import add_verbs
from monitor.cli.batch_desk import Desk, open_desk
from monitor.cli.common import print_json
from monitor.errors import LedgerRuleError
from monitor.farm import find_crop, find_place, find_stage

Verb = Callable[[Desk, argparse.Namespace], int]


def register(parser: argparse.ArgumentParser) -> None:
    """Add the verbs of ``batch``."""
    runs: dict[str, Verb] = {
        "add": _add, "move": _move, "harvest": _harvest, "out": _out, "observe": _observe,
        "split": _split, "divide": _divide, "end": _end, "undo": _undo, "list": _list,
        "show": _show,
    }  # fmt: skip
    for verb, sub in add_verbs(parser).items():
        sub.set_defaults(run=partial(_at_desk, runs[verb]))


def _at_desk(verb: Verb, args: argparse.Namespace) -> int:
    with open_desk(args) as desk:
        return verb(desk, args)


def _batch_id(args: argparse.Namespace) -> int:
    return parse_batch_id(" ".join(args.batch))


def _exact(text: str | None, option: str) -> int | None:
    if text is None:
        return None
    count = parse_count(text)
    if count.rough:
        raise LedgerRuleError(f"{option} takes an exact number, and {text!r} is rough")
    return count.number


def _add(desk: Desk, args: argparse.Namespace) -> int:
    crop = find_crop(desk.farm, args.crop)
    stage = find_stage(crop, args.stage)
    start = Start(
        crop=crop.id, cultivar=args.cultivar.strip(), stage=stage.id, unit=crop.unit(stage.id),
        place=find_place(desk.farm, args.place).id,
        count=None if args.count is None else parse_count(args.count),
        supplier=args.supplier, lot=args.lot, grade=args.grade, note=args.note,
        received=_exact(args.received, "--received"), rotten=_exact(args.rotten, "--rotten"),
    )  # fmt: skip
    return desk.write(args, add(start, desk.writing(args)))


def _going(
    desk: Desk, batch: int, args: argparse.Namespace
) -> tuple[str | None, str | None, dict[str, str]]:
    """Return the place and stage a batch goes to, and what its stages are counted in."""
    crop = desk.crop(desk.batch(batch))
    place = None if args.to is None else find_place(desk.farm, args.to).id
    stage = None if args.stage is None else find_stage(crop, args.stage).id
    if place is None and stage is None:
        raise LedgerRuleError("where to? Name the place with --to PLACE, or the stage with --stage")
    return place, stage, {each: crop.unit(each) for each in crop.stages}


def _move(desk: Desk, args: argparse.Namespace) -> int:
    batch = _batch_id(args)
    place, stage, units = _going(desk, batch, args)
    return desk.write(
        args, move(batch, desk.writing(args), place=place, stage=stage, units=units), batch
    )


def _split(desk: Desk, args: argparse.Namespace) -> int:
    batch = _batch_id(args)
    place, stage, units = _going(desk, batch, args)
    number = parse_count(args.count)
    build = split(batch, number, desk.writing(args), place=place, stage=stage, units=units)
    return desk.write(args, build, batch)


def _harvest(desk: Desk, args: argparse.Namespace) -> int:
    batch = _batch_id(args)
    crop = desk.crop(desk.batch(batch))
    stems = [stage for stage in crop.stages.values() if crop.unit(stage.id) == "stems"]
    if not stems:
        raise LedgerRuleError(f"{crop.name} has no stage of cut stems: add one in crops.toml")
    into = None if args.into is None else parse_batch_id(args.into)
    build = harvest(
        batch, parse_count(args.stems), desk.writing(args),
        growing=[each for each in crop.stages if crop.unit(each) == "plants"],
        stage=stems[0].id,
        place=None if args.to is None else _stems_place(desk, stems[0].place_kinds, args.to),
        into=into,
        cut_ms=None if args.cut is None else desk.when(args.cut),
        grade=args.grade,
    )  # fmt: skip
    return desk.write(args, build, batch if into is None else into)


def _stems_place(desk: Desk, kinds: tuple[str, ...], text: str) -> str:
    """Return the place that stems are put in: one of the kinds they are kept in."""
    place = find_place(desk.farm, text)
    if kinds and place.kind not in kinds:
        fitting = [each.name for each in desk.farm.places.values() if each.kind in kinds]
        raise LedgerRuleError(
            f"{place.name} is a {place.kind.replace('_', ' ')}, where no cut stems are kept: "
            f"name one of {', '.join(fitting) or 'none yet; add a cooler in farm.toml'}"
        )
    return place.id


def _out(desk: Desk, args: argparse.Namespace) -> int:
    batch = _batch_id(args)
    bunch_of = _exact(args.bunches_of, "--bunches-of")
    leavings = [
        Leaving(purpose, parse_count(number), bunch_of, args.to)
        for purpose in Purpose
        if (number := getattr(args, purpose.value)) is not None
    ]
    return desk.write(args, out(batch, leavings, desk.writing(args)), batch)


def _observe(desk: Desk, args: argparse.Namespace) -> int:
    batch = _batch_id(args)
    at_length_mm = parse_length_mm(" ".join(args.at_length)) if args.at_length else None
    seen = Seen(
        roots=parse_roots(" ".join(args.roots), at_length_mm) if args.roots else None,
        mould=args.mould, softness=args.softness, moisture=args.moisture,
        culls=_exact(args.culls, "--culls"), all_fine=args.all_fine, note=args.note,
        count=None if args.count is None else parse_count(args.count),
        held_for=args.held_for, held=_exact(args.stems, "--stems"),
    )  # fmt: skip
    return desk.write(args, observe(batch, seen, desk.writing(args)), batch)


def _divide(desk: Desk, args: argparse.Namespace) -> int:
    batch = _batch_id(args)
    into: Count = parse_count(args.into)
    return desk.write(args, divide(batch, into, desk.writing(args), unit=args.unit), batch)


def _end(desk: Desk, args: argparse.Namespace) -> int:
    batch = _batch_id(args)
    return desk.write(args, end(batch, args.why, desk.writing(args)), batch)


def _undo(desk: Desk, args: argparse.Namespace) -> int:
    batch = _batch_id(args)
    entry = _exact(args.entry and args.entry.lstrip("#"), "--entry")
    return desk.write(args, undo(batch, desk.writing(args), entry=entry), batch)


def _list(desk: Desk, args: argparse.Namespace) -> int:
    book = desk.book()
    if args.json:
        print_json(batches_json(book, desk.states(), ended=args.all))
        return 0
    lines = say_batches(desk.farm, book, desk.states())
    print("\n".join(lines) if lines else "No batch is here.")
    ended = say_ended(desk.farm, book) if args.all else []
    if ended:
        print("\n".join(["Ended", *ended]))
    return 0


def _show(desk: Desk, args: argparse.Namespace) -> int:
    entries = desk.ledger.entries()
    book, batch = desk.book(), desk.batch(_batch_id(args))
    if args.json:
        print_json(batch_details_json(batch, book, entries, desk.states()))
        return 0
    lines = [
        *say_batch(desk.farm, book, batch, desk.states()),
        "Where it was", *say_stays(desk.farm, batch),
        "Record", *say_record(desk.farm, book, batch, entries),
    ]  # fmt: skip
    print("\n".join(lines))
    return 0
