"""``cormwatch alarm limits``: which limits and delays were changed, when, from what to what."""

import argparse

from monitor.alarms.altered import say_altered
from monitor.cli.common import add_farm, add_json, print_json
from monitor.cli.opening import load_farm, open_ledger
from monitor.farm.altering import Altered, altered
from monitor.units import iso_utc


def register(what: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add it to ``alarm``."""
    limits = what.add_parser("limits", help="every limit and delay that was changed, and when")
    add_json(limits)
    add_farm(limits)
    limits.set_defaults(run=show_limits)


def show_limits(args: argparse.Namespace) -> int:
    """Print each change between the configurations that were accepted, the oldest first."""
    farm = load_farm(args)
    ledger = open_ledger(farm)
    try:
        changes = altered(ledger.configurations())
    finally:
        ledger.close()
    if args.json:
        print_json([_row(each) for each in changes])
        return 0
    for each in changes:
        print(say_altered(farm, each))
    if not changes:
        print("No limit was changed since the first start.")
    return 0


def _row(change: Altered) -> dict[str, object]:
    limit = change.limit
    of = limit.quantity or limit.of
    unit = "s" if limit.quantity is None else "%"
    if limit.quantity not in (None, "humidity"):
        unit = "Cel"
    return {
        "at": iso_utc(change.at_ms), "by": change.by, "subject": limit.subject,
        "limit": limit.name, "quantity": None if of is None else of.value,
        "from": change.before, "to": change.after, "unit": unit,
    }  # fmt: skip
