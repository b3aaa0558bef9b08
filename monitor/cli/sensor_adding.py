"""``cormwatch sensor add``: a topic becomes a sensor of the farm, written into its file."""

import argparse
from contextlib import closing

from monitor.cli.common import add_by, add_farm, farm_dir
from monitor.cli.opening import load_farm, open_ledger
from monitor.clock import SystemClock
from monitor.daemon.finding import Found, remembered
from monitor.daemon.reconfiguring import reconfigure
from monitor.errors import UnitError, UnknownNameError
from monitor.farm import find_place
from monitor.farm.editing import NewChannel, NewSensor, add_sensor, free_id
from monitor.farm.sheets import FARM
from monitor.intake import TEMPERATURES
from monitor.model import Quantity
from monitor.report.recorded import ids_used

_SHAPE = "write it as temperature:air.t:C, or temperature::F for a bare number"


def register(what: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add it to ``sensor``."""
    add = what.add_parser("add", help="take a topic as a sensor of the farm")
    add.add_argument("topic", metavar="TOPIC", help="as sensor find prints it")
    add.add_argument("--place", required=True, metavar="PLACE", help="where it hangs")
    add.add_argument("--name", default="", metavar="NAME", help="what the pages call it")
    add.add_argument("--every", metavar="TIME", help="how often it speaks (default: as heard)")
    add.add_argument(
        "--channel", action="append", default=[], metavar="QUANTITY:PATH:UNIT",
        help=f"what it measures (default: as heard); {_SHAPE}; once for each",
    )  # fmt: skip
    add.add_argument("--hangs", default="", metavar="TEXT", help="where exactly it hangs")
    add_by(add)
    add_farm(add)
    add.set_defaults(run=add_one)


def add_one(args: argparse.Namespace) -> int:
    """Write the sensor into farm.toml; a running monitor takes it within seconds.

    Raises
    ------
    UnitError
        If what it measures is neither given nor heard.
    """
    farm = load_farm(args)
    heard = next((each for each in remembered(farm) if each.topic == args.topic), None)
    with closing(open_ledger(farm)) as ledger:
        used = ids_used(farm.sensors, ledger.configurations(), FARM, "sensor")
    new = NewSensor(
        id=free_id(used, args.name or args.topic, "sensor"),
        place=find_place(farm, args.place).id,
        topic=args.topic,
        interval=args.every or _heard_every(heard),
        channels=[_channel(each) for each in args.channel] or _heard_channels(heard, args.topic),
        name=args.name,
        hangs=args.hangs,
    )
    with closing(open_ledger(farm)) as ledger:
        made = reconfigure(
            farm_dir(args), ledger, [add_sensor(new)], by=args.by, why=f"sensor {new.id} added",
            now_ms=SystemClock().now_ms(), digest=farm.digest,
        )  # fmt: skip
    print(f"{made.sensors[new.id].name} ({new.id}) belongs to {made.places[new.place].name} now.")
    for each in new.channels:
        where = f" at {each.path}" if each.path else ", a bare number"
        print(f"    {each.quantity.value.replace('_', ' ')}{where}, in {each.unit or 'yes or no'}")
    print(f"    speaks every {new.interval}; change any of it in farm.toml")
    return 0


def _heard_every(heard: Found | None) -> str:
    interval_s = heard.interval_s if heard else None
    if interval_s is None:
        raise UnitError("how often it speaks is not known yet: give --every, as --every '60 s'")
    return f"{interval_s} s"


def _heard_channels(heard: Found | None, topic: str) -> list[NewChannel]:
    guesses = heard.guesses if heard else ()
    if not guesses:
        raise UnitError(f"what {topic} carries is not known: give --channel; {_SHAPE}")
    if any(each.quantity in TEMPERATURES and not each.unit for each in guesses):
        raise UnitError(f"whether {topic} speaks °F or °C is not clear: give --channel; {_SHAPE}")
    return [NewChannel(each.quantity, each.path, each.unit) for each in guesses]


def _channel(text: str) -> NewChannel:
    """Return what a text such as ``temperature:air.t:C`` says."""
    quantity, *rest = text.split(":")
    name = quantity.strip().lower().replace(" ", "_").replace("-", "_")
    if name not in set(Quantity):
        raise UnknownNameError(f"{text!r} names no quantity: {', '.join(Quantity)}; {_SHAPE}")
    if len(rest) < 2:  # noqa: PLR2004 - a path, which may hold colons, and a unit
        raise UnitError(f"{text!r} has no path and unit: {_SHAPE}")
    return NewChannel(Quantity(name), ":".join(rest[:-1]) or None, rest[-1])
