"""``cormwatch alarm``: list alarms, acknowledge one, or try the way to every phone."""

import argparse
from collections.abc import Sequence

from monitor import alarms
from monitor.batches import fold
from monitor.cli import alarm_aside, alarm_duty, alarm_limits
from monitor.cli.common import add_by, add_farm, add_json, print_json
from monitor.cli.drilling import by_the_monitor
from monitor.cli.night import add_night, run_night
from monitor.cli.opening import load_farm, open_ledger
from monitor.clock import Clock, SystemClock
from monitor.courier import Addresses, Courier, Result, addresses_of
from monitor.daemon.desk import acknowledge
from monitor.daemon.examining import is_watched
from monitor.errors import NoticeError
from monitor.farm import Farm, format_when
from monitor.model import Alarm, Answer, Notice
from monitor.notices import NOBODY, drills


def register(parser: argparse.ArgumentParser) -> None:
    """Add what ``alarm`` takes."""
    what = parser.add_subparsers(dest="what", required=True)
    listing = what.add_parser("list", help="alarms, the newest first")
    add_json(listing)
    listing.add_argument("--open", action="store_true", help="only those that are open")
    listing.set_defaults(run=list_alarms)
    ack = what.add_parser("ack", help="say that you have seen an alarm")
    ack.add_argument("alarm", type=int, metavar="ID")
    ack.add_argument("--going", action="store_true", help="and that you are going there")
    add_by(ack)
    ack.set_defaults(run=acknowledge_alarm)
    drill = what.add_parser("drill", help="send a marked test to everyone and print each result")
    add_by(drill)
    add_night(drill)
    drill.set_defaults(run=run_drill)
    alarm_duty.register(what)
    alarm_aside.register(what)
    alarm_limits.register(what)
    for each in (listing, ack, drill):
        add_farm(each)


def list_alarms(args: argparse.Namespace) -> int:
    """Print the alarms, ended ones too unless only the open are asked for."""
    farm = load_farm(args)
    ledger = open_ledger(farm)
    found = ledger.alarms(open_only=args.open)
    ledger.close()
    if args.json:
        print_json(alarms.alarms_json(found))
        return 0
    for alarm in found:
        print(_lines(farm, alarm))
    if not found:
        print("No alarms." if not args.open else "No open alarms.")
    return 0


def _lines(farm: Farm, alarm: Alarm) -> str:
    state = alarm.state.value.replace("_", ", ")
    who = f" by {alarm.acknowledged_by}" if alarm.acknowledged_by else ""
    if alarm.state in alarms.ASIDE:
        until = f" until {format_when(alarm.until_ms, farm.zone)}" if alarm.until_ms else ""
        who = f"{until}: {alarm.why}"
    raised = format_when(alarm.raised_ms, farm.zone)
    return f"{alarm.id:>4}  {raised}  {alarm.title} ({state}{who})\n      {alarm.text}"


def acknowledge_alarm(args: argparse.Namespace) -> int:
    """Acknowledge one alarm; a running daemon sees it within seconds."""
    farm = load_farm(args)
    ledger = open_ledger(farm)
    try:
        book = fold(ledger.entries())
        now_ms = SystemClock().now_ms()
        said = acknowledge(
            farm, ledger, book, alarm_id=args.alarm, by=args.by, now_ms=now_ms,
            answer=Answer.GOING if args.going else Answer.SEEN,
        )  # fmt: skip
    finally:
        ledger.close()
    print(f"{said[0].upper()}{said[1:]}.")
    return 0


def run_drill(args: argparse.Namespace) -> int:
    """Have the running monitor send a marked test to every address, or send it where none runs.

    Raises
    ------
    NoticeError
        If nobody has an address, or not every address could be reached.
    """
    if args.night or args.woke:
        return run_night(args)
    farm, clock = load_farm(args, secrets_needed=True), SystemClock()
    addresses = addresses_of({each.id: each.addresses for each in farm.people.values()})
    if not addresses:
        raise NoticeError(f"{NOBODY}: give someone an address in people.toml")
    now_ms = clock.now_ms()
    tests = [drills.plain_test(farm, person, label, args.by, now_ms) for person, label in addresses]
    if is_watched(farm):
        by_the_monitor(farm, tests)
        return 0
    _send(farm, tests, addresses, clock)
    return 0


def _send(farm: Farm, tests: Sequence[Notice], addresses: Addresses, clock: Clock) -> None:
    print("The monitor is not running: sent by this command.", flush=True)
    courier = Courier(farm.data_dir / "ledger.db", addresses, clock)
    failed = 0
    for notice in tests:
        person, label = notice.person, notice.address
        secret = addresses[person, label]
        result = courier.send_now(notice, secret)
        failed += not result.sent
        print(f"{farm.people[person].name}, address {label}: {_said(result)}", flush=True)
    if failed:
        raise NoticeError(f"{failed} of {len(addresses)} addresses could not be reached")


def _said(result: Result) -> str:
    return "sent" if result.sent else f"NOT SENT: {result.error}"
