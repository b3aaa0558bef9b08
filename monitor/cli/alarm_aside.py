"""``cormwatch alarm shelve``, ``unshelve``, ``rest``, ``return`` and ``show``."""

import argparse
from collections.abc import Callable

from monitor import alarms
from monitor.batches import fold, open_batches
from monitor.cli.common import add_by, add_farm, add_json, print_json
from monitor.cli.opening import load_farm, open_ledger
from monitor.clock import SystemClock
from monitor.daemon.aside import Desk
from monitor.farm import Farm, format_when
from monitor.store import Ledger
from monitor.units import parse_duration_s


def register(what: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add them to ``alarm``."""
    shelve = what.add_parser("shelve", help="keep an alarm quiet for a while, with a reason")
    shelve.add_argument("--for", dest="span", required=True, metavar="TIME", help="as 2h, 45 min")
    shelve.add_argument("--once", action="store_true", help="or until it is over once")
    rest = what.add_parser("rest", help="take an alarm out of service while you work on it")
    rest.add_argument("--for", dest="span", metavar="TIME", help="until you return it by default")
    for each in (shelve, rest):
        each.add_argument("--why", required=True, metavar="TEXT", help="for whoever comes next")
        each.set_defaults(run=put_aside)
    rest.set_defaults(once=False)
    unshelve = what.add_parser("unshelve", help="end an alarm's being kept quiet")
    back = what.add_parser("return", help="let an alarm serve again after work on it")
    for each in (unshelve, back):
        each.set_defaults(run=take_back)
    show = what.add_parser("show", help="one alarm: why it is told, and what happened")
    add_json(show)
    show.set_defaults(run=show_alarm)
    for each in (shelve, rest, unshelve, back, show):
        each.add_argument("alarm", type=int, metavar="ID")
        add_farm(each)
        if each is not show:
            add_by(each)


def put_aside(args: argparse.Namespace) -> int:
    """Keep an alarm quiet, or take it out of service; a running daemon sees it at once."""
    span_s = None if args.span is None else parse_duration_s(args.span)

    def put(desk: Desk, now_ms: int) -> str:
        until_ms = None if span_s is None else now_ms + round(span_s * 1000)
        rest = args.what == "rest"
        quiet = alarms.Quiet(args.by, args.why, until_ms, once=args.once, rest=rest)
        return desk.put_aside(args.alarm, quiet, now_ms)

    return _said(args, put)


def take_back(args: argparse.Namespace) -> int:
    """Judge an alarm afresh that was put aside."""
    decide = alarms.unshelve if args.what == "unshelve" else alarms.return_to_service

    def take(desk: Desk, now_ms: int) -> str:
        return desk.take_back(args.alarm, decide(args.by, now_ms), args.by, now_ms)

    return _said(args, take)


def _said(args: argparse.Namespace, do: Callable[[Desk, int], str]) -> int:
    farm, now_ms = load_farm(args), SystemClock().now_ms()
    ledger = open_ledger(farm)
    try:
        said = do(Desk(farm, ledger, fold(ledger.entries())), now_ms)
    finally:
        ledger.close()
    print(f"{said[0].upper()}{said[1:]}.")
    return 0


def show_alarm(args: argparse.Namespace) -> int:
    """Print one alarm whole: its text, its reasons, each step, each message and its result."""
    farm = load_farm(args)
    ledger = open_ledger(farm)
    try:
        told = alarms.alarm_json(ledger.alarm(args.alarm)) | {
            "rationale": alarms.rationale_json(ledger.alarm(args.alarm).key.kind, farm.units),
            "audit": alarms.audit_json(ledger.audit(args.alarm)),
            "notices": [
                {
                    "kind": each.kind.value, "person": each.person, "address": each.address,
                    "status": each.status.value, "attempts": each.attempts,
                    "last_error": each.last_error, "title": each.title,
                }
                for each in ledger.notices_of(args.alarm)
            ],
        }  # fmt: skip
        if args.json:
            print_json(told)
        else:
            _print(farm, ledger, args.alarm)
    finally:
        ledger.close()
    return 0


def _print(farm: Farm, ledger: Ledger, alarm_id: int) -> None:
    alarm, now_ms = ledger.alarm(alarm_id), SystemClock().now_ms()
    book = fold(ledger.entries())
    words = alarms.wording(farm, open_batches(book), book.holds)
    print(f"{alarm.title} (alarm {alarm.id}, {alarm.priority.value})\n{alarm.text}")
    if aside := alarms.say_aside(alarm, words, now_ms):
        print(f"It is {aside}.")
    for name, text in alarms.rationale_json(alarm.key.kind, farm.units).items():
        print(f"  {name.replace('_', ' ')}: {text}")
    for line in ledger.audit(alarm_id):
        state = line.after.value.replace("_", ", ")
        print(f"{format_when(line.at_ms, farm.zone)}  {line.by}: {line.note} ({state})")
    for each in ledger.notices_of(alarm_id):
        error = f": {each.last_error}" if each.last_error else ""
        who = each.person or "nobody"
        print(f"message to {who}, address {each.address}: {each.status.value}{error}")
