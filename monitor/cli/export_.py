"""``cormwatch export WHAT``: everything that is kept, as CSV or JSON on standard output."""

import argparse
import os
import sys
import tempfile
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Final, TextIO

from monitor.cli.common import add_farm
from monitor.cli.opening import load_farm, open_ledger
from monitor.clock import SystemClock
from monitor.daemon.survey import open_reader
from monitor.errors import StoreError
from monitor.farm import Farm, find_sensor, parse_when
from monitor.report.exporting import EVER_MS, TABLES, Kept, Row, write_csv, write_json
from monitor.report.table import COLUMNS, rows
from monitor.store import ReadingReader

PAGE: Final = 20_000
_READINGS: Final = "readings"


def register(parser: argparse.ArgumentParser) -> None:
    """Add what ``export`` takes."""
    what = parser.add_subparsers(dest="what", required=True)
    readings = what.add_parser(_READINGS, help="every reading, oldest first by channel")
    readings.add_argument("--since", metavar="WHEN", help="from this time on")
    readings.add_argument("--until", metavar="WHEN", help="up to this time")
    readings.add_argument("--sensor", metavar="ID", help="one sensor only")
    readings.set_defaults(run=export_readings)
    for name, table in TABLES.items():
        what.add_parser(name, help=table.about).set_defaults(run=export_table)
    everything = what.add_parser("all", help="all of these, each as a file in a new folder")
    everything.add_argument("--to", type=Path, required=True, metavar="FOLDER")
    everything.set_defaults(run=export_all)
    for each in what.choices.values():
        add_farm(each)
        each.add_argument("--format", choices=["csv", "json"], default="csv")


def export_readings(args: argparse.Namespace) -> int:
    """Write the readings; see ``_readings``."""
    farm, now_ms = load_farm(args), SystemClock().now_ms()
    since_ms = parse_when(args.since, farm.zone, now_ms) if args.since else -EVER_MS
    until_ms = parse_when(args.until, farm.zone, now_ms) if args.until else EVER_MS
    sensor = find_sensor(farm, args.sensor).id if args.sensor else None
    with closing(open_reader(farm)) as reader:
        found = _readings(farm, reader, (since_ms, until_ms), sensor)
        _write(found, COLUMNS, args.format, sys.stdout)
    return 0


def _readings(
    farm: Farm, reader: ReadingReader, span_ms: tuple[int, int], sensor: str | None = None
) -> Iterator[Row]:
    """Yield readings in pages: each is read at once, and nothing is held while it is written."""
    start_ms, until_ms = span_ms
    for channel in reader.channels():
        if sensor not in (None, channel.sensor):
            continue
        since_ms = start_ms
        while len((page := reader.page(channel, since_ms, until_ms, PAGE)).at_ms):
            yield from rows(farm, channel, page)
            since_ms = int(page.at_ms[-1]) + 1


def export_table(args: argparse.Namespace) -> int:
    """Write one table of the ledger, or what was noted beside the readings."""
    farm, table = load_farm(args), TABLES[args.what]
    with closing(open_ledger(farm)) as ledger, closing(open_reader(farm)) as reader:
        _write(table.rows(Kept(ledger, reader)), table.columns, args.format, sys.stdout)
    return 0


def export_all(args: argparse.Namespace) -> int:
    """Write every table into a folder of its own: all of it, or nothing."""
    farm, folder = load_farm(args), args.to
    if folder.exists():
        raise StoreError(f"{folder} is there already: name a new folder with --to")
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".export-", dir=folder.parent) as made:
            partial = Path(made) / folder.name
            partial.mkdir(mode=0o700)
            _files(farm, partial, args.format)
            partial.rename(folder)
    except OSError as failure:
        raise StoreError(f"{folder} cannot be written: {failure.strerror or failure}") from failure
    print(
        f"{folder} has {len(TABLES) + 1} files, one a table. They tell whatever stands in the "
        "farm's files and messages: keep them as private."
    )
    return 0


def _files(farm: Farm, folder: Path, form: str) -> None:
    with closing(open_ledger(farm)) as ledger, closing(open_reader(farm)) as reader:
        kept = Kept(ledger, reader)
        tables = {name: (table.rows(kept), table.columns) for name, table in TABLES.items()}
        tables[_READINGS] = _readings(farm, reader, (-EVER_MS, EVER_MS)), COLUMNS
        for name, (found, columns) in tables.items():
            file = os.open(folder / f"{name}.{form}", os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with os.fdopen(file, "w", encoding="utf-8") as to:
                _write(found, columns, form, to)


def _write(found: Iterator[Row], columns: tuple[str, ...], form: str, to: TextIO) -> None:
    if form == "csv":
        write_csv(found, columns, to)
    else:
        write_json(found, to)
