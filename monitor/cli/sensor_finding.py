"""``cormwatch sensor find``: what speaks at the broker and belongs to no sensor yet."""

import argparse
import signal
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from shlex import quote
from typing import Final

from monitor.cli.common import add_farm, add_json, print_json
from monitor.cli.opening import load_farm
from monitor.clock import SystemClock
from monitor.daemon.finding import Found, as_json, merged, overheard, remembered
from monitor.errors import OutOfRangeError
from monitor.farm import Farm, format_when
from monitor.intake import TEMPERATURES
from monitor.units import parse_duration_s

_LONGEST_S: Final = 86_400.0
_SAMPLE: Final = 100


def register(what: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add it to ``sensor``."""
    find = what.add_parser(
        "find", help="listen at the broker for sensors that the farm does not know yet"
    )
    find.add_argument(
        "--for", dest="span", default="70 s", metavar="TIME",
        help="how long to listen (default: 70 s; Ctrl-C ends it sooner; 0 s: only what the "
        "monitor has heard already)",
    )  # fmt: skip
    add_json(find)
    add_farm(find)
    find.set_defaults(run=find_sensors)


def find_sensors(args: argparse.Namespace) -> int:
    """Listen, then print each topic with what it seems to be and the line that adds it."""
    seconds = parse_duration_s(args.span)
    if not 0.0 <= seconds <= _LONGEST_S:
        raise OutOfRangeError(f"--for {args.span}: give a time of at most a day")
    farm = load_farm(args, secrets_needed=True)
    now: list[Found] = []
    if seconds > 0.0:
        with _stoppable() as stop:
            where = f"{farm.broker.host}:{farm.broker.port}"
            print(f"Listening at {where} for {args.span}; Ctrl-C ends it.", file=sys.stderr)
            now = overheard(farm, seconds, SystemClock(), stop)
    found = merged(now, remembered(farm))
    if args.json:
        print_json(list(as_json(found)))
        return 0
    for each in found:
        print("\n".join(_lines(farm, each)))
    if not found:
        print(
            "Nothing was heard that no sensor of the farm claims. Is the sensor switched on, and "
            "does it publish to this broker?"
        )
    return 0


@contextmanager
def _stoppable() -> Iterator[threading.Event]:
    stop = threading.Event()
    before = signal.signal(signal.SIGINT, lambda _number, _frame: stop.set())
    try:
        yield stop
    finally:
        signal.signal(signal.SIGINT, before)


def _plain(text: str) -> str:
    """Return what somebody published, safe on a terminal."""
    return "".join(each if each.isprintable() else "·" for each in text)


def _lines(farm: Farm, found: Found) -> Iterator[str]:
    messages = f"{found.count} message{'' if found.count == 1 else 's'}"
    every = f", one about every {found.interval_s} s" if found.interval_s else ""
    last = format_when(found.last_ms, farm.zone)
    yield f"{_plain(found.topic)}: {messages}{every}, the last {last}"
    yield f"    {_plain(found.sample[:_SAMPLE].decode('utf-8', 'replace'))}"
    if not found.guesses:
        yield "    what it carries is not clear: name it with --channel QUANTITY:PATH:UNIT"
    else:
        named = (
            f"{each.quantity.value.replace('_', ' ')}"
            + (f" ({each.path})" if each.path else "")
            + (f" in {each.unit}" if each.unit else "")
            + (", °F or °C not clear" if each.quantity in TEMPERATURES and not each.unit else "")
            for each in found.guesses
        )
        yield f"    looks like {', '.join(named)}"
    yield f'    add it:  cormwatch sensor add {quote(_plain(found.topic))} --place "PLACE"'
