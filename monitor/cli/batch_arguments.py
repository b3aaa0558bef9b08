"""What the verbs of ``cormwatch batch`` take."""

import argparse
from pathlib import Path

from monitor.cli.common import add_by, add_farm, add_json

VERBS = {
    "add": "a batch begins",
    "move": "a batch comes to another place or stage",
    "harvest": "stems are cut from a growing batch, which keeps its own count",
    "out": "stems or bunches leave: sold, used, given or culled",
    "observe": "what you saw: roots, mould, a count, all fine",
    "split": "part of a batch becomes a batch of its own",
    "divide": "clumps become several: the count may grow",
    "end": "a batch is no more",
    "undo": "an entry was a mistake: it and what was written with it no longer count",
    "list": "the batches that are here",
    "show": "one batch, with its stays and its record",
    "labels": "labels for crates: a code on each opens its batch's page on a phone",
}
READING = ("list", "show", "labels")
WHOLE_LEDGER = ("add", "list", "labels")


def add_verbs(parser: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    """Add the verbs to the parser and return each one's own."""
    add_farm(parser)
    verbs = parser.add_subparsers(dest="batch_verb", metavar="VERB", required=True)
    found: dict[str, argparse.ArgumentParser] = {}
    for verb, line in VERBS.items():
        sub = verbs.add_parser(verb, help=line, description=line)
        add_farm(sub)
        if verb != "labels":
            add_json(sub)
        if verb not in WHOLE_LEDGER:
            sub.add_argument("batch", nargs="+", help="its number, as 14 or #14")
        if verb not in READING:
            add_by(sub)
            sub.add_argument(
                "--at", default="now", metavar="WHEN", help='when it happened, as "yesterday 16:00"'
            )
        found[verb] = sub
    _adding(found["add"])
    _going(found)
    _leaving(found["out"])
    _observing(found["observe"])
    found["list"].add_argument("--all", action="store_true", help="ended batches too")
    _labelling(found["labels"])
    return found


def words_of(args: argparse.Namespace) -> dict[str, str]:
    """Return what was given, as words by their names; a flag that was not set is absent."""
    words: dict[str, str] = {}
    for name, value in vars(args).items():
        if isinstance(value, str):
            words[name] = value
        elif isinstance(value, list):
            words[name] = " ".join(value)
        elif value is True:
            words[name] = "yes"
    if "entry" in words:
        words["entry"] = words["entry"].lstrip("#")
    return words


def _adding(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("--crop", required=True)
    sub.add_argument("--cultivar", required=True)
    sub.add_argument("--place", "--to", required=True)
    sub.add_argument("--stage", required=True)
    sub.add_argument("--count", metavar="N", help='as 600, or "about 600"')
    sub.add_argument("--supplier")
    sub.add_argument("--lot")
    sub.add_argument("--grade", help="size or quality, as 5/6")
    sub.add_argument("--received", metavar="N", help="how many came in")
    sub.add_argument("--rotten", metavar="N", help="how many of them were rotten")
    sub.add_argument("--note")


def _going(found: dict[str, argparse.ArgumentParser]) -> None:
    for verb in ("move", "split", "harvest"):
        found[verb].add_argument("--to", "--place", metavar="PLACE")
    for verb in ("move", "split"):
        found[verb].add_argument("--stage")
    cut = found["harvest"]
    cut.add_argument("--stems", "--count", required=True, metavar="N", help="how many were cut")
    cut.add_argument("--into", metavar="ID", help="the stems batch they join")
    cut.add_argument("--cut", metavar="WHEN", help="when they were cut, if before --at")
    cut.add_argument("--grade")
    found["split"].add_argument("--count", required=True, metavar="N", help="how many go")
    found["divide"].add_argument(
        "--into", "--count", required=True, metavar="N", help="how many there are now"
    )
    found["divide"].add_argument("--unit", choices=("clumps", "corms", "tubers", "bulbs", "plants"))
    found["end"].add_argument("--why", "--reason", required=True, metavar="TEXT")
    found["undo"].add_argument(
        "--entry", metavar="N", help="the entry's number (default: the newest that counts)"
    )


def _labelling(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("batch", nargs="*", help="its number (default: each batch that is here)")
    sub.add_argument("--copies", type=int, default=1, metavar="N", help="so many labels of each")
    kind = sub.add_mutually_exclusive_group(required=True)
    kind.add_argument("--html", type=Path, metavar="FILE", help="write a sheet that prints well")
    kind.add_argument("--svg", type=Path, metavar="FILE", help="write one batch's code alone")


def _leaving(sub: argparse.ArgumentParser) -> None:
    for purpose in ("sold", "used", "given", "culled"):
        sub.add_argument(f"--{purpose}", metavar="N", help="how many stems, or bunches")
    sub.add_argument("--bunches-of", metavar="M", help="the number is in bunches of M stems")
    sub.add_argument("--to", metavar="WHOM", help="a customer, an order, an event")


def _observing(sub: argparse.ArgumentParser) -> None:
    sub.add_argument(
        "--roots", nargs="+", metavar="SAMPLE",
        help='"22 of 25", "80 %%", or lengths as 12 15 20 mm',
    )  # fmt: skip
    sub.add_argument("--at-length", nargs="+", metavar="LENGTH", help="that share's, as 1 in")
    sub.add_argument("--mould", metavar="TEXT", help="what you saw of it")
    sub.add_argument("--softness", metavar="TEXT")
    sub.add_argument("--moisture", choices=("dry", "moist", "wet"))
    sub.add_argument("--culls", metavar="N", help="how many you threw away; they leave the count")
    sub.add_argument("--all-fine", action="store_true", help="no mould, moist, firm")
    sub.add_argument("--count", metavar="N", help='counted again: 600, or "about 600"')
    sub.add_argument("--held-for", metavar="ORDER", help="some are promised to an order")
    sub.add_argument("--stems", metavar="N", help="how many are held (0 releases them)")
    sub.add_argument("--note", metavar="TEXT")
