"""The command ``cormwatch``: one file per noun, registered here."""

import argparse
import gc
import importlib
import io
import os
import sys
from collections.abc import Sequence

from monitor.errors import CormwatchError

ABOUT = "Watch the places and batches of a small flower farm."

# Each module offers register(subparsers) and is imported only when its verb is used.
VERBS = {
    "init": "write a starter farm into a folder",
    "check": "read the farm's files and name every mistake",
    "run": "watch the farm (the daemon)",
    "service": "let the system's service manager run it",
    "demo": "show the whole job on a made-up farm, at 60 times real speed",
    "simulate": "publish made-up readings to the farm's broker",
    "place": "the places and how they stand",
    "sensor": "the sensors: list, find, add",
    "batch": "batches: add, move, harvest, out, observe, split, divide, end, undo, list, show",
    "alarm": "alarms: list, show, ack, shelve, rest, limits, duty, score, drill",
    "people": "the people: list; password and token, for reaching the pages from elsewhere",
    "certificate": "make or renew the pages' own certificate, which a phone trusts once",
    "replay": "judge the stored history afresh",
    "report": "what a batch has lived through",
    "mirror": "the copy elsewhere: status, fill, verify, pull",
    "export": "write readings as CSV",
    "import": "take readings from CSV",
    "backup": "copy the whole farm into one file",
    "restore": "put such a copy into an empty folder",
}

# What goes on for long: its modules are never looked through by the collector.
LASTING = ("run", "demo")


def _parser(argv: Sequence[str]) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="cormwatch", description=ABOUT)
    verbs = parser.add_subparsers(dest="verb", metavar="VERB", required=True)
    wanted = next((word for word in argv if word in VERBS), None)
    for verb, line in VERBS.items():
        sub = verbs.add_parser(verb, help=line, description=line)
        if verb == wanted:
            importlib.import_module(f"monitor.cli.{verb}_").register(sub)
    return parser


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code: 0 done, 2 a failure the user can mend."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # a name never fails to be printed
            stream.reconfigure(errors="replace")
    words = list(sys.argv[1:] if argv is None else argv)
    gc.disable()  # modules are no garbage: looking through them took a fifth of a start
    try:
        args = _parser(words).parse_args(words)
        if args.verb in LASTING:
            gc.freeze()
    finally:
        gc.enable()
    try:
        code: int = args.run(args)
        sys.stdout.flush()
    except CormwatchError as failure:
        print(f"cormwatch {args.verb}: {failure}", file=sys.stderr)
        return 2
    except BrokenPipeError:  # whoever read our output has read enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except KeyboardInterrupt:
        return 130
    return code
