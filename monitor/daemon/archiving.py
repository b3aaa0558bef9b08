"""A month's readings in a file of an open format, and what that file says when it is read back."""

import csv
import gzip
import os
import zlib
from collections.abc import Iterator
from itertools import groupby, islice
from pathlib import Path
from typing import Final

import numpy as np

from monitor.errors import StoreError
from monitor.farm import Farm
from monitor.mirror.comparing import Sum, sums
from monitor.model import Channel, Quantity
from monitor.report.exporting import Row, write_csv
from monitor.report.table import COLUMNS, flags_of, rows, time_ms
from monitor.store import ReadingReader, Series
from monitor.store.connection import keep_name

_PAGE: Final = 20_000
Sums = dict[Channel, dict[int, Sum]]
"""Of each channel and day, by its number since 1970: how many readings, and their checksum."""


def write_month(
    farm: Farm, reader: ReadingReader, to: Path, since_ms: int, until_ms: int
) -> None:  # fmt: skip
    """Write every reading of a span into a file as ``export readings`` does, compressed.

    Raises
    ------
    StoreError
        If it cannot be written; nothing half-done remains.
    """
    partial = to.with_name(f".{to.name}.partial")
    try:
        partial.unlink(missing_ok=True)
        file = os.open(partial, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o600)
        with os.fdopen(file, "wb") as raw:
            with gzip.open(raw, "wt", encoding="utf-8", newline="", compresslevel=6) as text:
                write_csv(_rows(farm, reader, since_ms, until_ms), COLUMNS, text)
            raw.flush()
            os.fsync(raw.fileno())
        partial.replace(to)
        keep_name(to)  # readings are deleted that it alone holds
    except OSError as failure:
        raise StoreError(f"{to} cannot be written: {failure.strerror or failure}") from failure
    finally:
        partial.unlink(missing_ok=True)


def _rows(farm: Farm, reader: ReadingReader, since_ms: int, until_ms: int) -> Iterator[Row]:
    for channel in reader.channels():
        at_ms = since_ms
        while len((page := reader.page(channel, at_ms, until_ms, _PAGE)).at_ms):
            yield from rows(farm, channel, page)
            at_ms = int(page.at_ms[-1]) + 1


def read_month(path: Path) -> Sums:
    """Return what such a file holds, day by day.

    Raises
    ------
    StoreError
        If it cannot be read, or is not whole.
    """
    try:
        with gzip.open(path, "rt", encoding="utf-8", newline="") as text:
            table = csv.DictReader(text, strict=True)
            by_channel = groupby(table, lambda row: (row["sensor"], row["quantity"]))
            return {
                Channel(sensor, Quantity(what)): sums(_pages(found))
                for (sensor, what), found in by_channel
            }
    except (OSError, EOFError, zlib.error, ValueError, KeyError, csv.Error) as failure:
        raise StoreError(f"{path} does not read back: {failure}") from failure


def _pages(found: Iterator[dict[str, str]]) -> Iterator[Series]:
    while page := list(islice(found, _PAGE)):
        yield Series(
            np.array([time_ms(row["at"]) for row in page], np.int64),
            np.array([float(row["raw"]) for row in page], np.float64),
            np.array([int(flags_of(row["flags"])) for row in page], np.int64),
        )
