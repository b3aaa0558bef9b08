"""``cormwatch batch``: what is here, what came, went and was seen.

Every verb reads and writes the ledger alone, so it works with the daemon running or
stopped. A refusal writes nothing.
"""

import argparse
from collections.abc import Callable
from functools import partial

from monitor.batches.asked import Asked, plan
from monitor.batches.counts import parse_batch_id
from monitor.batches.listing import batch_details_json, batches_json
from monitor.batches.telling import say_batch, say_batches, say_ended, say_record, say_stays
from monitor.cli.batch_arguments import READING, add_verbs, words_of
from monitor.cli.batch_desk import Desk, open_desk
from monitor.cli.batch_labels import print_labels
from monitor.cli.common import print_json

Verb = Callable[[Desk, argparse.Namespace], int]


def register(parser: argparse.ArgumentParser) -> None:
    """Add the verbs of ``batch``."""
    reading: dict[str, Verb] = {"list": _list, "show": _show, "labels": print_labels}
    for verb, sub in add_verbs(parser).items():
        run = reading[verb] if verb in READING else partial(_write, verb)
        sub.set_defaults(run=partial(_at_desk, run))


def _at_desk(verb: Verb, args: argparse.Namespace) -> int:
    with open_desk(args) as desk:
        return verb(desk, args)


def _write(verb: str, desk: Desk, args: argparse.Namespace) -> int:
    asked = Asked(desk.farm, desk.book(), desk.writing(args), words_of(args))
    planned = plan(verb, asked)
    return desk.write(args, planned.build, planned.batch)


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
    book, batch = desk.book(), desk.batch(parse_batch_id(" ".join(args.batch)))
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
