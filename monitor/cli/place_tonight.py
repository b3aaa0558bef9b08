"""``cormwatch place tonight``: what the night may bring in each tunnel and field."""

import argparse
from contextlib import closing

from monitor import notices
from monitor.alarms import wording
from monitor.batches import fold, open_batches
from monitor.cli.common import add_by, add_farm, add_json, print_json
from monitor.cli.opening import load_farm, open_ledger
from monitor.clock import SystemClock
from monitor.daemon.survey import open_reader
from monitor.farm import Farm
from monitor.report.evenings import Grounds, Mornings, all_heat, all_tonight
from monitor.report.forecast import give_low, given_low
from monitor.report.reading import Stores
from monitor.report.recorded import past_of
from monitor.store import Ledger
from monitor.units import parse_temperature_c
from monitor.watch.nights import Where, night_day
from monitor.watch.tonight_listing import tonight_json


def register(parser: argparse.ArgumentParser) -> None:
    """Add what ``place tonight`` takes."""
    parser.add_argument(
        "--low", metavar="TEMP", help="tonight's low by a weather forecast, as 28 F: it is kept"
    )
    add_by(parser)
    add_farm(parser)
    add_json(parser)
    parser.set_defaults(run=tonight)


def tonight(args: argparse.Namespace) -> int:
    """Print tonight's outlook, after keeping a forecast low where one was given."""
    farm, now_ms = load_farm(args), SystemClock().now_ms()
    low_c = None if args.low is None else parse_temperature_c(args.low)
    with closing(open_ledger(farm)) as ledger:
        day = night_day(now_ms, Where(farm.latitude, farm.longitude))
        if low_c is not None:
            give_low(ledger, day, low_c, args.by, now_ms)
        return _show(farm, ledger, now_ms, as_json=args.json)


def _show(farm: Farm, ledger: Ledger, now_ms: int, *, as_json: bool) -> int:
    with closing(open_reader(farm)) as reader:
        book = fold(ledger.entries())
        grounds = Grounds(
            Stores(farm, past_of(farm, ledger.configurations()), reader), book, now_ms
        )
        nights = all_tonight(grounds, given_low(ledger, night_day(now_ms, grounds.where)))
        warm = all_heat(grounds, Mornings())
    if as_json:
        print_json(tonight_json(nights, warm))
        return 0
    how = notices.telling(wording(farm, open_batches(book), book.holds), now_ms)
    for one in warm:
        print(notices.say_heat(one, how))
    for each in nights:
        print(notices.say_tonight(each, how))
    if not nights:
        print("No tunnel and no field stands in farm.toml: there is no night to speak of.")
    return 0
