"""``cormwatch alarm duty``, ``score`` and ``scorecard``: who has it, and was it real?"""

import argparse

from monitor import notices
from monitor.alarms.scorecard import scorecard
from monitor.batches.plain_text import NAME_AT_MOST, printable
from monitor.cli.common import add_by, add_farm, add_json, print_json
from monitor.cli.opening import load_farm, open_ledger
from monitor.clock import SystemClock
from monitor.errors import LedgerRuleError
from monitor.farm import Farm, find_person, format_when, parse_when
from monitor.model import DutyLine

_ALL = 100_000


def register(what: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    """Add the three to ``alarm``."""
    duty = what.add_parser("duty", help="who is on duty now, or take it")
    duty.add_argument("--take", metavar="PERSON", help="who has it, by id or name")
    duty.add_argument("--from", dest="since", metavar="WHEN", help="from now by default")
    duty.add_argument("--until", metavar="WHEN", help="until the next morning by default")
    add_by(duty)
    duty.set_defaults(run=show_or_take)
    score = what.add_parser("score", help="say whether an alarm was real or needless")
    score.add_argument("alarm", type=int, metavar="ID")
    score.add_argument("verdict", choices=["real", "needless"])
    add_by(score)
    score.set_defaults(run=score_alarm)
    card = what.add_parser("scorecard", help="this year's alarms: real, needless, nights woken")
    add_json(card)
    card.set_defaults(run=show_scorecard)
    for each in (duty, score, card):
        add_farm(each)


def show_or_take(args: argparse.Namespace) -> int:
    """Print who is on duty now, or write down who has it.

    Raises
    ------
    LedgerRuleError
        If the end does not lie after the beginning.
    """
    farm, now_ms = load_farm(args), SystemClock().now_ms()
    ledger = open_ledger(farm)
    try:
        if args.take is None:
            print(_on_duty(farm, notices.on_duty(farm, ledger.duty_lines(), now_ms)))
            return 0
        printable(args.by, NAME_AT_MOST, "the name")
        line = _line(farm, args, now_ms)
        ledger.take_duty(line)
    finally:
        ledger.close()
    person = farm.people[line.person]
    print(f"{person.name} has it until {format_when(line.until_ms, farm.zone)}.")
    if not person.addresses:
        print(f"{person.name} has no address and cannot be rung: the next person is.")
    return 0


def _line(farm: Farm, args: argparse.Namespace, now_ms: int) -> DutyLine:
    person = find_person(farm, args.take)
    zone = farm.zone
    from_ms = parse_when(args.since, zone, now_ms, future=True) if args.since else now_ms
    until_ms = (
        parse_when(args.until, zone, now_ms, future=True)
        if args.until
        else notices.duty_until_ms(from_ms, farm.notices, zone)
    )
    if until_ms <= from_ms:
        raise LedgerRuleError("the duty ends before it begins: name a later --until")
    return DutyLine(from_ms, until_ms, person.id, now_ms, args.by)


def _on_duty(farm: Farm, ids: tuple[str, ...]) -> str:
    names = [farm.people[each].name for each in ids if each in farm.people]
    return f"On duty: {', '.join(names)}." if names else "Nobody is on duty: everyone is rung."


def score_alarm(args: argparse.Namespace) -> int:
    """Write down whether an alarm was needless."""
    farm, now_ms = load_farm(args), SystemClock().now_ms()
    printable(args.by, NAME_AT_MOST, "the name")
    ledger = open_ledger(farm)
    try:
        ledger.alarm(args.alarm)
        needless = args.verdict == "needless"
        ledger.score(args.alarm, needless=needless, by=args.by, now_ms=now_ms)
    finally:
        ledger.close()
    print(f"Alarm {args.alarm} was {args.verdict}, by {args.by}.")
    return 0


def show_scorecard(args: argparse.Namespace) -> int:
    """Print this year's scorecard."""
    farm, now_ms = load_farm(args), SystemClock().now_ms()
    ledger = open_ledger(farm)
    found = ledger.alarms(limit=_ALL), ledger.scores(), ledger.notices(limit=_ALL)
    ledger.close()
    card = scorecard(*found, farm.zone, now_ms)
    if args.json:
        print_json(card.as_json())
        return 0
    print(f"This year {card.real} real, {card.needless} needless, {card.not_said} not said.")
    print(f"Nights on which someone was woken: {card.nights_woken}.")
    return 0
