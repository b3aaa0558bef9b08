"""``cormwatch import readings FILE.csv``: readings from a file; they never alarm."""

import argparse
import csv
from itertools import islice
from pathlib import Path

from monitor.cli.common import add_farm
from monitor.cli.opening import load_farm
from monitor.clock import SystemClock
from monitor.errors import FarmError
from monitor.farm import Farm
from monitor.report.table import missing_columns, reading
from monitor.store import Commit, Committed, ReadingStore

PAGE = 5_000


def register(parser: argparse.ArgumentParser) -> None:
    """Add what ``import`` takes."""
    what = parser.add_subparsers(dest="what", required=True)
    readings = what.add_parser("readings", help="readings from a CSV file as export writes it")
    add_farm(readings)
    readings.add_argument("file", type=Path, metavar="FILE.csv")
    readings.add_argument("--dry-run", action="store_true", help="read all of it, store nothing")
    readings.set_defaults(run=import_readings)


def import_readings(args: argparse.Namespace) -> int:
    """Check the whole file first, then store it: a bad line leaves nothing half-done."""
    farm, now_ms = load_farm(args), SystemClock().now_ms()
    found = _walk(args.file, farm, now_ms, None)
    if args.dry_run:
        print(f"{found.stored} readings can be imported; nothing was stored")
        return 0
    store = ReadingStore.open(farm.data_dir / "readings.db")
    try:
        done = _walk(args.file, farm, now_ms, store)
    finally:
        store.close()
    print(
        f"{done.stored} readings imported, {done.repeated} were there already, "
        f"{done.conflicting} differ from what was kept and were left out"
    )
    return 0


def _walk(file: Path, farm: Farm, now_ms: int, store: ReadingStore | None) -> Committed:
    stored = repeated = conflicting = 0
    try:
        with file.open(newline="", encoding="utf-8-sig") as source:
            table = csv.DictReader(source)
            if missing := missing_columns(table.fieldnames):
                raise FarmError(f"{file}: the column {missing[0]} is missing in the first line")
            numbered = enumerate(table, start=2)
            while page := [reading(row, farm, n, now_ms) for n, row in islice(numbered, PAGE)]:
                done = store.commit(Commit(page)) if store else Committed(len(page), 0, 0, 0)
                stored += done.stored
                repeated += done.repeated
                conflicting += done.conflicting
    except (OSError, UnicodeDecodeError, csv.Error) as failure:
        raise FarmError(f"{file} cannot be read as CSV: {failure}") from failure
    return Committed(stored, repeated, conflicting, 0)
