"""``cormwatch place list``: the places, their bands and how they stand; ``place tonight``."""

import argparse
from datetime import datetime
from typing import Final

from monitor import watch
from monitor.alarms.saying import say_span, say_value
from monitor.cli import place_limit, place_loading, place_tonight
from monitor.cli.common import add_farm, add_json, print_json
from monitor.cli.opening import load_farm
from monitor.clock import SystemClock
from monitor.daemon.survey import survey
from monitor.farm import Farm, format_when
from monitor.model import PlaceState
from monitor.watch import PlaceStatus

_DAY_MS: Final = 86_400_000
STATES = {
    PlaceState.IN_BAND: "in band",
    PlaceState.DRIFTING: "drifting",
    PlaceState.HARM: "OUT OF BAND, HARM",
    PlaceState.UNKNOWN: "not known",
}


def register(parser: argparse.ArgumentParser) -> None:
    """Add what ``place`` takes."""
    what = parser.add_subparsers(dest="what", required=True)
    listing = what.add_parser("list", help="every place and how it stands now")
    add_farm(listing)
    add_json(listing)
    listing.set_defaults(run=list_places)
    place_tonight.register(what.add_parser("tonight", help="what tonight may bring in the tunnels"))
    place_limit.register(what.add_parser("limit", help="another limit, with who and why"))
    place_loading.register(what.add_parser("loading", help="a cooler is being loaded"))


def list_places(args: argparse.Namespace) -> int:
    """Judge the newest readings and print how each place stands."""
    farm, now_ms = load_farm(args), SystemClock().now_ms()
    state, _ = survey(farm, now_ms)
    if args.json:
        print_json(watch.places_json(farm, state, now_ms))
        return 0
    for place in farm.places:
        print(say_place(farm, watch.place_status(state, place, now_ms), now_ms))
    return 0


def say_place(farm: Farm, status: PlaceStatus, now_ms: int) -> str:
    """Return how one place stands, in a line."""
    values = [
        say_value(each.value, each.channel.quantity, farm.units)
        for each in status.channels
        if each.value is not None and each.channel.quantity in watch.JUDGED
    ]
    since = ""
    if status.since_ms is not None:
        since = f" for {say_span(max(now_ms - status.since_ms, 0) / 1000)}"
    said = ", ".join(values)
    if values and status.state is PlaceState.UNKNOWN:
        said = f"last {said}, heard {_heard(farm, status, now_ms)}"
    name = farm.places[status.place].name
    return f"{name}: {STATES[status.state]}{since}{'; ' if values else ''}{said}"


def _heard(farm: Farm, status: PlaceStatus, now_ms: int) -> str:
    """Return when the newest of a place's values was taken: the time alone if within a day."""
    at_ms = max(
        each.at_ms
        for each in status.channels
        if each.at_ms is not None and each.channel.quantity in watch.JUDGED
    )
    if now_ms - at_ms >= _DAY_MS:
        return format_when(at_ms, farm.zone)
    return f"{datetime.fromtimestamp(at_ms / 1000, farm.zone):%H:%M}"
