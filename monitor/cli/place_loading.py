"""``cormwatch place loading``: warm air is expected while a cooler is loaded."""

import argparse
from contextlib import closing

from monitor.batches.loading import USUAL_MS, end_loading, load
from monitor.cli.common import add_by, add_farm
from monitor.cli.opening import load_farm, open_ledger
from monitor.clock import SystemClock
from monitor.errors import LedgerRuleError
from monitor.farm import Farm, Place, find_place, format_when
from monitor.model import PlaceKind
from monitor.units import parse_duration_s


def register(parser: argparse.ArgumentParser) -> None:
    """Add what ``place loading`` takes."""
    parser.add_argument("place", metavar="PLACE", help="the cooler, by its id or name")
    parser.add_argument(
        "--for", dest="span", metavar="TIME", help="as 45 min; 60 min by default, 2 h at most"
    )
    parser.add_argument("--end", action="store_true", help="the loading is over")
    add_by(parser)
    add_farm(parser)
    parser.set_defaults(run=loading)


def loading(args: argparse.Namespace) -> int:
    """Write down that a cooler is being loaded, or that this is over.

    Raises
    ------
    LedgerRuleError
        If the place is no cooler, or the time is too long.
    """
    farm, now_ms = load_farm(args), SystemClock().now_ms()
    place = _cooler(farm, args.place)
    span_ms = USUAL_MS if args.span is None else round(parse_duration_s(args.span) * 1000)
    until_ms = now_ms + span_ms
    build = (
        end_loading(place.id, args.by, now_ms)
        if args.end
        else load(place.id, until_ms, args.by, now_ms)
    )
    with closing(open_ledger(farm)) as ledger:
        written = ledger.write_entries(build, now_ms)
    if not written:
        print(f"{place.name} is not being loaded; nothing changed.")
    elif args.end:
        print(f"{place.name}: loading is over; warm air is told again from now on.")
    else:
        print(
            f"{place.name}: loading until {format_when(until_ms, farm.zone)}. Warm air is expected "
            "until then; freezing, and harm to what is kept there, are told all the same."
        )
    return 0


def _cooler(farm: Farm, name: str) -> Place:
    found = find_place(farm, name)
    if found.kind is not PlaceKind.COOLER:
        raise LedgerRuleError(f"{found.name} is no cooler: there is no loading to wait for there")
    return found
