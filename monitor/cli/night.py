"""``cormwatch alarm drill --night`` and ``--woke``: does the phone wake whoever it should?"""

import argparse
from contextlib import closing

from monitor.cli.drilling import by_the_monitor
from monitor.cli.opening import load_farm, open_ledger
from monitor.clock import SystemClock
from monitor.courier import Addresses, addresses_of
from monitor.daemon.examining import is_watched
from monitor.errors import NoticeError
from monitor.farm import Farm, find_person
from monitor.notices import NOBODY, drills


def add_night(parser: argparse.ArgumentParser) -> None:
    """Add what a night drill takes."""
    which = parser.add_mutually_exclusive_group()
    which.add_argument(
        "--night", action="store_true",
        help="a test as loud as an alarm: silence the phone as for the night first",
    )  # fmt: skip
    which.add_argument(
        "--woke", action="store_true", help="say that the night drill woke you (--by)"
    )
    parser.add_argument("--to", metavar="PERSON", help="a night drill to one person only")


def run_night(args: argparse.Namespace) -> int:
    """Send a night drill through the running monitor, or take that it woke someone.

    Raises
    ------
    NoticeError
        If nobody has an address, or no monitor runs: it proves the monitor's own road.
    LedgerRuleError
        If it comes too late to count.
    """
    farm, now_ms = load_farm(args, secrets_needed=not args.woke), SystemClock().now_ms()
    if args.woke:
        return _woke(farm, args.by, now_ms)
    addresses = _asked(farm, args.to)
    if not is_watched(farm):
        raise NoticeError("no monitor runs here: start it, since a night drill proves its road")
    tests = [drills.night_test(farm, *key, args.by, now_ms) for key in addresses]
    with closing(open_ledger(farm)) as ledger:
        people = dict.fromkeys(person for person, _ in addresses)
        ledger.alter(drills.KEY, lambda kept: drills.begun(kept, people, now_ms))
    by_the_monitor(farm, tests)
    print("Whoever it wakes says so within ten minutes: cormwatch alarm drill --woke --by NAME")
    return 0


def _asked(farm: Farm, name: str | None) -> Addresses:
    people = farm.people
    if name is not None:
        person = find_person(farm, name)
        people = {person.id: person}
    addresses = addresses_of({each.id: each.addresses for each in people.values()})
    if not addresses:
        raise NoticeError(f"{NOBODY}: give someone an address in people.toml")
    return addresses


def _woke(farm: Farm, by: str, now_ms: int) -> int:
    person = find_person(farm, by)
    with closing(open_ledger(farm)) as ledger:
        ledger.alter(drills.KEY, lambda kept: drills.woken(kept, person, now_ms))
    print(f"It woke {person.name}: written down.")
    return 0
