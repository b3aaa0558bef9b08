"""``cormwatch place limit``: another limit for a place, with who and why, as on its page."""

import argparse
import sys
from contextlib import closing

from monitor.cli.common import add_by, add_farm, farm_dir
from monitor.cli.opening import load_farm, open_ledger
from monitor.clock import SystemClock
from monitor.daemon.reconfiguring import reconfigure
from monitor.errors import FarmError, UnknownNameError
from monitor.farm import find_place
from monitor.farm.editing import change_limits
from monitor.farm.editing.limits import KEYS, LIMITED, dangers, normal, order, written
from monitor.model import Band, Quantity
from monitor.units import TemperatureUnit

_HOW = f"write it as harm.high=43F or tolerated=45min; it can be {', '.join(KEYS)} or tolerated"


def register(parser: argparse.ArgumentParser) -> None:
    """Add what ``place limit`` takes."""
    parser.add_argument("place", metavar="PLACE")
    parser.add_argument("quantity", metavar="QUANTITY", help=" or ".join(LIMITED))
    parser.add_argument(
        "limit", metavar="LIMIT=VALUE", nargs="+", help="as harm.high=43F; harm.high=none ends one"
    )
    parser.add_argument("--why", required=True, metavar="TEXT", help="kept with the change")
    parser.add_argument("--sure", action="store_true", help="do it though it is dangerous")
    add_by(parser)
    add_farm(parser)
    parser.set_defaults(run=change_one)


def change_one(args: argparse.Namespace) -> int:
    """Write the limits into farm.toml; a running monitor takes them within seconds.

    Raises
    ------
    FarmError
        If they are no limits, stand the wrong way round, or are dangerous without ``--sure``.
    UnknownNameError
        If nothing of this name has limits.
    """
    farm = load_farm(args)
    place, quantity = find_place(farm, args.place), _quantity(args.quantity)
    before = written(place.bands.get(quantity, Band()), quantity, farm.units)
    touched = _touched(args.limit, quantity, farm.units)
    after = {key: each for key, each in {**before, **touched}.items() if each is not None}
    wrong = order(after, quantity)
    if wrong:
        raise FarmError("; ".join(f"{key}: {said}" for key, said in wrong.items()))
    told = dangers(place, quantity, touched)
    if told and not args.sure:
        raise FarmError(f"{' '.join(told)} Say --sure to do it all the same.")
    source = f"set by {args.by}: {args.why}"
    with closing(open_ledger(farm)) as ledger:
        reconfigure(
            farm_dir(args), ledger, [change_limits(place.id, quantity, touched, before, source)],
            by=args.by, why=f"{place.name}: {args.why}", now_ms=SystemClock().now_ms(),
            digest=farm.digest,
        )  # fmt: skip
    for key, text in touched.items():
        print(
            f"{place.name}, {quantity.value} {key}: {before.get(key, 'none')} -> {text or 'none'}"
        )
    for each in told:
        print(each, file=sys.stderr)
    return 0


def _quantity(text: str) -> Quantity:
    name = text.strip().lower().replace(" ", "_").replace("-", "_")
    if name not in LIMITED:
        raise UnknownNameError(f"{text!r} has no limits here: say {' or '.join(LIMITED)}")
    return Quantity(name)


def _touched(limits: list[str], quantity: Quantity, unit: TemperatureUnit) -> dict[str, str | None]:
    touched: dict[str, str | None] = {}
    for each in limits:
        name, equals, text = (part.strip() for part in each.partition("="))
        keys = ("tolerated.low", "tolerated.high") if name == "tolerated" else (name,)
        if not equals or any(key not in KEYS for key in keys):
            raise FarmError(f"{each!r} changes nothing: {_HOW}")
        none = text == "none" and not name.startswith("tolerated")
        touched |= {key: None if none else normal(key, text, quantity, unit) for key in keys}
    return touched
