"""``cormwatch export readings``: what was kept, as CSV on standard output."""

import argparse
import csv
import sys

from monitor.cli.common import add_farm
from monitor.cli.opening import load_farm
from monitor.clock import SystemClock
from monitor.daemon.survey import open_reader
from monitor.farm import find_sensor, parse_when
from monitor.report.table import COLUMNS, rows

PAGE = 20_000


def register(parser: argparse.ArgumentParser) -> None:
    """Add what ``export`` takes."""
    what = parser.add_subparsers(dest="what", required=True)
    readings = what.add_parser("readings", help="every reading, oldest first by channel")
    add_farm(readings)
    readings.add_argument("--since", metavar="WHEN", help="from this time on")
    readings.add_argument("--until", metavar="WHEN", help="up to this time")
    readings.add_argument("--sensor", metavar="ID", help="one sensor only")
    readings.add_argument("--format", choices=["csv"], default="csv")
    readings.set_defaults(run=export_readings)


def export_readings(args: argparse.Namespace) -> int:
    """Write the readings in short pages, so that no export holds up the writer."""
    farm, now_ms = load_farm(args), SystemClock().now_ms()
    since_ms = parse_when(args.since, farm.zone, now_ms) if args.since else 0
    until_ms = parse_when(args.until, farm.zone, now_ms) if args.until else now_ms + 1
    sensor = find_sensor(farm, args.sensor).id if args.sensor else None
    reader = open_reader(farm)
    table = csv.writer(sys.stdout, lineterminator="\n")
    table.writerow(COLUMNS)
    for channel in reader.channels():
        if sensor not in (None, channel.sensor):
            continue
        start_ms = since_ms
        while len((page := reader.page(channel, start_ms, until_ms, PAGE)).at_ms):
            table.writerows(rows(farm, channel, page))
            start_ms = int(page.at_ms[-1]) + 1
    reader.close()
    return 0
