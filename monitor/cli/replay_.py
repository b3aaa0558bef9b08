"""``cormwatch replay``: judge the stored history afresh; nothing sent, nothing stored."""

import argparse
import sys

from tqdm import tqdm

from monitor.cli.common import add_farm, add_json, print_json
from monitor.cli.opening import load_farm, open_ledger
from monitor.clock import SystemClock
from monitor.daemon.replaying import SLICE_MS, Replay, Replayed, replayed_json, span
from monitor.daemon.restoring import specs
from monitor.daemon.survey import open_reader
from monitor.farm import Farm, format_when, parse_when


def register(parser: argparse.ArgumentParser) -> None:
    """Add what ``replay`` takes."""
    add_farm(parser)
    add_json(parser)
    parser.add_argument("--since", metavar="WHEN", help="from this time on")
    parser.add_argument("--until", metavar="WHEN", help="up to this time")
    parser.set_defaults(run=replay)


def replay(args: argparse.Namespace) -> int:
    """Judge the readings from one time to another by today's limits, and print the alarms."""
    farm, now_ms = load_farm(args), SystemClock().now_ms()
    ledger, reader = open_ledger(farm), open_reader(farm)
    try:
        known = span(reader, specs(farm))
        since_ms, until_ms = (known[0], known[1] + 1) if known else (now_ms, now_ms)
        if args.since:
            since_ms = max(parse_when(args.since, farm.zone, now_ms), since_ms)
        if args.until:
            until_ms = min(parse_when(args.until, farm.zone, now_ms), until_ms)
        found = _run(Replay(farm, ledger.entries(), reader, since_ms, until_ms))
    finally:
        reader.close()
        ledger.close()
    if args.json:
        print_json(replayed_json(found))
    else:
        _say(farm, found)
    return 0


def _run(work: Replay) -> list[Replayed]:
    slices = max(work.until_ms - work.since_ms, 0) // SLICE_MS
    shown = sys.stderr.isatty()
    with tqdm(total=slices, unit="slice", desc="Replay", leave=False, disable=not shown) as bar:

        def move(at_ms: int) -> None:
            bar.update((at_ms - work.since_ms) // SLICE_MS - bar.n)

        return work.run(move)


def _say(farm: Farm, found: list[Replayed]) -> None:
    for each in found:
        back = (
            "still open" if each.returned_ms is None else format_when(each.returned_ms, farm.zone)
        )
        print(f"{format_when(each.raised.at_ms, farm.zone)} to {back}: {each.text}")
    print(f"{len(found)} alarm{'' if len(found) == 1 else 's'} in this history.")
