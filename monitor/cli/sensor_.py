"""``cormwatch sensor``: the sensors, when they were last heard, and finding more."""

import argparse

from monitor import watch
from monitor.cli import sensor_adding, sensor_finding
from monitor.cli.common import add_farm, add_json, print_json
from monitor.cli.opening import load_farm
from monitor.daemon.survey import open_reader
from monitor.farm import format_when


def register(parser: argparse.ArgumentParser) -> None:
    """Add what ``sensor`` takes."""
    what = parser.add_subparsers(dest="what", required=True)
    listing = what.add_parser("list", help="every sensor, its topic and when it was last heard")
    add_farm(listing)
    add_json(listing)
    listing.set_defaults(run=list_sensors)
    sensor_finding.register(what)
    sensor_adding.register(what)


def list_sensors(args: argparse.Namespace) -> int:
    """Print the sensors in the order of the farm's file."""
    farm = load_farm(args)
    reader = open_reader(farm)
    heard = reader.heard()
    reader.close()
    if args.json:
        print_json(watch.sensors_json(farm, heard))
        return 0
    for sensor in farm.sensors.values():
        at_ms = heard.get(sensor.id)
        last = f"last heard {format_when(at_ms, farm.zone)}" if at_ms else "not heard yet"
        what = ", ".join(
            f"{each.quantity.value.replace('_', ' ')} {each.path or 'bare number'} in {each.unit}"
            for each in sensor.channels
        )
        print(f"{sensor.name} ({sensor.id}): {last}\n    {sensor.topic}: {what}")
    return 0
