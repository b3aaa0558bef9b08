"""``cormwatch replay``: judge the stored history afresh; nothing sent, nothing stored."""

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from tqdm import tqdm

from monitor.alarms.saying import say_list
from monitor.cli.common import add_farm, add_json, print_json
from monitor.cli.opening import load_farm, open_ledger
from monitor.clock import SystemClock
from monitor.daemon.compared import Account, Occurrence, compared_json, recorded, replayed
from monitor.daemon.replaying import SLICE_MS, Replay, Replayed, replayed_json, span
from monitor.daemon.restoring import specs
from monitor.daemon.survey import open_reader
from monitor.farm import Farm, format_when, load, parse_when
from monitor.farm.changing import changed
from monitor.report.recorded import posted_since
from monitor.store import Ledger, ReadingReader


def register(parser: argparse.ArgumentParser) -> None:
    """Add what ``replay`` takes."""
    add_farm(parser)
    add_json(parser)
    parser.add_argument("--since", metavar="WHEN", help="from this time on")
    parser.add_argument("--until", metavar="WHEN", help="up to this time")
    parser.add_argument(
        "--compare", action="store_true",
        help="beside what was told: how many, when, and how many nights someone is woken",
    )  # fmt: skip
    parser.add_argument(
        "--with",
        dest="other",
        type=Path,
        metavar="DIR",
        help="compare with the farm's files in another folder",
    )
    parser.add_argument(
        "--set", dest="changes", action="append", default=[], metavar="CHANGE",
        help="compare with a change, as walk-in-cooler.temperature.harm.high='42 F' or "
        "walk-in-cooler.temperature.tolerated='20 min'; may be given several times",
    )  # fmt: skip
    parser.set_defaults(run=replay)


def replay(args: argparse.Namespace) -> int:
    """Judge the readings from one time to another by today's limits, and print the alarms."""
    farm, now_ms = load_farm(args), SystemClock().now_ms()
    others = _others(args, farm)
    ledger, reader = open_ledger(farm), open_reader(farm)
    try:
        since_ms, until_ms = _span(args, farm, reader, now_ms)
        found = _replayed(farm, ledger, reader, (since_ms, until_ms), now_ms)
        if args.compare or others:
            accounts = [
                recorded(ledger, farm, since_ms, until_ms),
                replayed("by today's files", found, farm),
                *(
                    replayed(
                        "as changed",
                        _replayed(each, ledger, reader, (since_ms, until_ms), now_ms),
                        each,
                    )
                    for each in others
                ),
            ]
    finally:
        reader.close()
        ledger.close()
    if args.compare or others:
        if args.json:
            print_json(compared_json(accounts, since_ms, until_ms))
        else:
            _say_compared(farm, accounts)
    elif args.json:
        print_json(replayed_json(found))
    else:
        _say(farm, found)
    return 0


def _others(args: argparse.Namespace, farm: Farm) -> list[Farm]:
    """Return the farm as the other files and the changes would have it, if any are given."""
    if args.other is None and not args.changes:
        return []
    base = farm if args.other is None else load(args.other, secrets_needed=False)
    return [changed(base, args.changes)]


def _span(
    args: argparse.Namespace, farm: Farm, reader: ReadingReader, now_ms: int
) -> tuple[int, int]:
    known = span(reader, specs(farm))
    since_ms, until_ms = (known[0], known[1] + 1) if known else (now_ms, now_ms)
    if args.since:
        since_ms = max(parse_when(args.since, farm.zone, now_ms), since_ms)
    if args.until:
        until_ms = min(parse_when(args.until, farm.zone, now_ms), until_ms)
    return since_ms, until_ms


def _replayed(
    farm: Farm, ledger: Ledger, reader: ReadingReader, span_ms: tuple[int, int], now_ms: int
) -> list[Replayed]:
    """Judge by a farm's files what its sensors have told since they hang where they do."""
    posted = posted_since(farm, ledger.configurations(), now_ms)
    return _run(Replay(farm, ledger.entries(), reader, *span_ms, posted))


def _run(work: Replay) -> list[Replayed]:
    slices = max(work.until_ms - work.since_ms, 0) // SLICE_MS
    shown = sys.stderr.isatty()
    with tqdm(total=slices, unit="slice", desc="Replay", leave=False, disable=not shown) as bar:

        def move(at_ms: int) -> None:
            bar.update((at_ms - work.since_ms) // SLICE_MS - bar.n)

        return work.run(move)


def _say(farm: Farm, found: list[Replayed]) -> None:
    for each in found:
        back = _back(farm, each.returned_ms)
        print(f"{format_when(each.raised.at_ms, farm.zone)} to {back}: {each.text}")
    print(f"{len(found)} alarm{'' if len(found) == 1 else 's'} in this history.")


def _back(farm: Farm, returned_ms: int | None) -> str:
    return "still open" if returned_ms is None else format_when(returned_ms, farm.zone)


def _say_compared(farm: Farm, accounts: Sequence[Account]) -> None:
    print(f"{'':<18}{'alarms':>8}{'told':>8}{'nights woken':>14}")
    for each in accounts:
        print(f"{each.name:<18}{len(each.alarms):>8}{each.told:>8}{len(each.nights):>14}")
    for each in accounts:
        print(f"\n{each.name[:1].upper()}{each.name[1:]}:")
        for one in each.alarms:
            print(f"  {_said(farm, one)}")
        if each.nights:
            woken = say_list([f"{day.day} {day:%b}" for day in each.nights])
            print(f"  Someone is woken in the nights to {woken}.")
        if not each.alarms:
            print("  no alarm")


def _said(farm: Farm, each: Occurrence) -> str:
    told = "nobody told"
    if each.notified_ms is not None:
        told = f"told {format_when(each.notified_ms, farm.zone)}"
    back = _back(farm, each.returned_ms) if each.returned_ms is not None else "not back"
    first = each.text.partition(". ")[0]
    return f"{format_when(each.raised_ms, farm.zone)} to {back}, {told}: {first}"
