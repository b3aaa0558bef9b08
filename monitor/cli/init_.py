"""``cormwatch init``: write a starter farm into a folder."""

import argparse
import getpass
import os
import re
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from monitor.cli.init_phones import add_reach, settle, wanted
from monitor.cli.init_second import add_second, write
from monitor.errors import FarmError
from monitor.farm.starting import Start, write_starter
from monitor.units import TemperatureUnit

Ask = Callable[[str], str]
_HIGHEST_PORT = 65_535
_NEXT = """\
{folder} holds a farm now: farm.toml, crops.toml and people.toml. Next:
  cormwatch check --farm {folder}     names what is still missing
  cormwatch run --farm {folder}       watches; pages at http://127.0.0.1:8484
  cormwatch alarm drill --farm {folder}   sends everyone a test, once people.toml has addresses"""


def register(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of ``init``."""
    parser.add_argument("folder", type=Path, metavar="DIR", help="where the farm's files go")
    parser.add_argument("--yes", action="store_true", help="ask nothing")
    parser.add_argument("--name", help="the farm's name")
    parser.add_argument("--units", choices=["F", "C"], help="degrees to read and write (F)")
    broker = parser.add_mutually_exclusive_group()
    broker.add_argument(
        "--broker", metavar="HOST:PORT", help="where the MQTT broker is (127.0.0.1:1883)"
    )
    broker.add_argument(
        "--embedded", action="store_true", help="use the broker inside, for a first trial"
    )
    add_second(broker.add_argument)
    add_reach(parser)
    parser.set_defaults(run=run)


def broker_at(text: str) -> tuple[str, int]:
    """Return host and port of ``HOST``, ``HOST:PORT`` or ``[IPv6]:PORT``.

    Raises
    ------
    FarmError
        If the text is none of these.
    """
    found = re.fullmatch(r"(?:\[([0-9a-fA-F:]+)\]|([A-Za-z0-9._-]+))(?::(\d{1,5}))?", text.strip())
    port = int(found[3] or 1883) if found else 0
    if found is None or not 1 <= port <= _HIGHEST_PORT:
        raise FarmError("--broker is no HOST:PORT: write it as 192.168.1.10:1883")
    return found[1] or found[2], port


def _started(args: argparse.Namespace) -> Start:
    host, port = broker_at(args.broker or "127.0.0.1:1883")
    units = TemperatureUnit(args.units or "F")
    return Start(name=args.name, units=units, host=host, port=port, embedded=args.embedded)


def questions(start: Start, args: argparse.Namespace, ask: Ask, ask_hidden: Ask) -> Start:
    """Return the start completed by what was not given: at most four short questions."""
    if args.name is None:
        start = replace(start, name=ask("Name of the farm [keep the sample's]: ").strip() or None)
    if args.units is None:
        unit = ask("Degrees, F or C [F]: ").strip().upper() or "F"
        if unit not in ("F", "C"):
            raise FarmError("degrees are F or C: start again")
        start = replace(start, units=TemperatureUnit(unit))
    if args.broker is None and not args.embedded:
        text = ask("MQTT broker, HOST:PORT or embedded [127.0.0.1:1883]: ").strip()
        start = _with_broker(start, text)
    address = ask_hidden("Address to wake a phone, as an apprise address [later]: ").strip()
    return replace(start, address=address or None)


def _with_broker(start: Start, text: str) -> Start:
    if text.lower() == "embedded":
        return replace(start, embedded=True)
    host, port = broker_at(text or "127.0.0.1:1883")
    return replace(start, host=host, port=port)


def run(args: argparse.Namespace) -> int:
    """Write the farm and say what comes next."""
    if args.second is not None:
        return write(args)
    start = _started(args)
    ask = None if args.yes or not sys.stdin.isatty() else input
    if ask is not None:
        start = questions(start, args, ask, getpass.getpass)
    reach = wanted(args, ask, getpass.getpass)
    write_starter(args.folder, start, os.environ)
    settle(args.folder, reach)
    print(_NEXT.format(folder=args.folder))
    return 0
