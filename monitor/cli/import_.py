"""``cormwatch import readings FILE.csv``: readings from a file; they never alarm."""

import argparse
import csv
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from itertools import islice
from pathlib import Path
from typing import Final, Self

import numpy as np

from monitor.cli.common import add_farm
from monitor.cli.opening import load_farm
from monitor.clock import SystemClock
from monitor.daemon.survey import open_reader
from monitor.errors import FarmError, StoreError
from monitor.farm import Farm
from monitor.model import Channel, Reading
from monitor.report.table import missing_columns, reading
from monitor.store import Commit, Committed, ReadingReader, ReadingStore

PAGE: Final = 5_000
Take = Callable[[Sequence[Reading]], Committed]


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
    if args.dry_run:
        with closing(open_reader(farm)) as reader, _Trial(reader) as trial:
            found = _total(map(trial.take, _pages(args.file, farm, now_ms)))
        print(f"{_said(found, 'can be')}; nothing was stored")
        return 0
    for _ in _pages(args.file, farm, now_ms):
        pass
    with closing(ReadingStore.open(farm.data_dir / "readings.db")) as store:
        pages = _pages(args.file, farm, now_ms)
        try:
            found = _total(store.commit(Commit(page)) for page in pages)
        except StoreError as failure:
            raise StoreError(
                f"{failure}. A part of {args.file} is stored: import it again when this is mended, "
                "what is there already is known again"
            ) from failure
    print(_said(found, "were"))
    return 0


def _said(found: Committed, how: str) -> str:
    return (
        f"{found.stored:,} readings {how} imported; {found.repeated:,} are there already, "
        f"{found.conflicting:,} differ from what is kept and are left out"
    )


def _total(parts: Iterator[Committed]) -> Committed:
    table = [(each.stored, each.repeated, each.conflicting) for each in parts]
    stored, repeated, conflicting = np.array(table, np.int64).reshape(-1, 3).sum(axis=0).tolist()
    return Committed(stored, repeated, conflicting, 0)


def _pages(file: Path, farm: Farm, now_ms: int) -> Iterator[list[Reading]]:
    """Yield a file's readings; the first line that cannot be read is named by its number."""
    try:
        with file.open(newline="", encoding="utf-8-sig") as source:
            table = csv.DictReader(source, strict=True)
            if missing := missing_columns(table.fieldnames):
                raise FarmError(f"{file}: the column {missing[0]} is missing in the first line")
            found = (reading(row, farm, table.line_num, now_ms) for row in table)
            while page := list(islice(found, PAGE)):
                yield page
    except csv.Error as failure:
        raise FarmError(f"{file}: no CSV after line {table.line_num}: {failure}") from failure
    except (OSError, UnicodeDecodeError) as failure:
        raise FarmError(f"{file} cannot be read as CSV: {failure}") from failure


class _Trial:
    """Counts what an import would do: beside what is kept, and in a file that is thrown away."""

    def __init__(self, reader: ReadingReader) -> None:
        self._reader = reader
        self._folder = tempfile.TemporaryDirectory(prefix="cormwatch-")
        self._store = ReadingStore.open(Path(self._folder.name) / "readings.db")

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_failure: object) -> None:
        self._store.close()
        self._folder.cleanup()

    def take(self, page: Sequence[Reading]) -> Committed:
        """Return what would become of a page of readings."""
        held = self._held(page)
        known = [held.get((each.channel, each.at_ms)) for each in page]
        pairs = list(zip(page, known, strict=True))
        new = self._store.commit(Commit([each for each, value in pairs if value is None]))
        repeated = sum(value == each.raw for each, value in pairs)
        conflicting = sum(value is not None for value in known) - repeated
        return Committed(new.stored, new.repeated + repeated, new.conflicting + conflicting, 0)

    def _held(self, page: Sequence[Reading]) -> dict[tuple[Channel, int], float]:
        """Return what is kept already at a page's times: rows, none of the lines between them."""
        wanted: dict[Channel, set[int]] = {}
        for each in page:
            wanted.setdefault(each.channel, set()).add(each.at_ms)
        found: dict[tuple[Channel, int], float] = {}
        for channel, times in wanted.items():
            since_ms, until_ms = min(times), max(times) + 1
            while len((kept := self._reader.page(channel, since_ms, until_ms, PAGE)).at_ms):
                rows = zip(kept.at_ms.tolist(), kept.raw.tolist(), strict=True)
                found.update(((channel, at_ms), raw) for at_ms, raw in rows if at_ms in times)
                since_ms = int(kept.at_ms[-1]) + 1
        return found
