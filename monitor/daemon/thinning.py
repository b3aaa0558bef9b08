"""Old readings thinned, month by month, once every one of them is safe elsewhere.

A month is first written into a file beside the daily copies and read back, or read through
in the mirror. A channel's day is thinned only if its readings, as they stand in the very
transaction that takes some away, are those that were read back, to the last bit.
"""

import logging
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Final

import numpy as np

from monitor.clock import Clock
from monitor.daemon.archiving import Sums, read_month, write_month
from monitor.errors import StoreError
from monitor.farm import Farm, slug
from monitor.mirror.comparing import DAY_MS, Sum, sums
from monitor.mirror.querying import Query
from monitor.model import Channel, Flag, Quantity
from monitor.report.making import THINNED as KEY
from monitor.science.thinning import thin
from monitor.store import Ledger, ReadingReader, ReadingStore, Series
from monitor.store.thinned import NOT_PLAIN

TOLERANCE: Final = {
    Quantity.TEMPERATURE: 0.2, Quantity.SOIL_TEMPERATURE: 0.2, Quantity.HUMIDITY: 2.0,
    Quantity.BATTERY: 2.0, Quantity.DOOR: 0.0, Quantity.MAINS: 0.0,
}  # fmt: skip
"""No moment of a thinned series is off by more. [°C, %, or 0 and 1]"""
_GAP_S: Final = 180.0  # of a sensor that no file names any more
_BREATH_S: Final = 0.02
_YEAR: Final = 12
_EVER_MS: Final = 2**62

log = logging.getLogger("cormwatch")


def month_ms(number: int) -> int:
    """Return when a month of UTC begins, numbered from the year 0. [ms]"""
    year, month = divmod(number, _YEAR)
    return round(datetime(year, month + 1, 1, tzinfo=UTC).timestamp() * 1000)


def month_of(at_ms: int) -> int:
    """Return the number of the month of UTC that a time lies in. [ms]"""
    moment = datetime.fromtimestamp(at_ms / 1000, UTC)
    return moment.year * _YEAR + moment.month - 1


def thinned(series: Series, tolerance: float, gap_s: float) -> Series:
    """Return the readings that stay, flagged where others were between; odd ones all stay."""
    plain = (series.flags & NOT_PLAIN) == 0
    chosen = thin(series.at_ms[plain], series.raw[plain], tolerance, gap_s)
    stays, flags = ~plain, series.flags.copy()
    stays[plain] = chosen.stays
    flags[np.flatnonzero(plain)[chosen.joined]] |= int(Flag.THINNED)
    return Series(series.at_ms[stays], series.raw[stays], flags[stays])


@dataclass
class Thinning:
    """Thins the oldest month that is due, one at a turn; used from one thread."""

    farm: Callable[[], Farm]
    ledger: Ledger
    clock: Clock
    breath_s: float = _BREATH_S

    def turn(self) -> bool:
        """Thin a month, where one is due; return whether one was.

        Raises
        ------
        StoreError, MirrorError
            If it cannot be made safe elsewhere first, or a file of the store fails.
        """
        farm = self.farm()
        if farm.thin_after_months is None or (farm.backup is None and farm.mirror is None):
            return False
        path = farm.data_dir / "readings.db"
        with closing(ReadingReader(path)) as reader:
            month = self._due(farm, reader)
            if month is None:
                return False
            safe, kept_in = self._safe(farm, reader, month)
        with closing(ReadingStore.open(path)) as store:
            before, after = self._thin(farm, store, safe)
        done = {
            "from_ms": month_ms(month), "until_ms": month_ms(month + 1), "before": before,
            "after": after, "kept_in": kept_in, "at_ms": self.clock.now_ms(),
        }  # fmt: skip
        self.ledger.append(KEY, done)
        log.info("readings of %s are thinned, %d to %d", _name(month), before, after)
        return True

    def _due(self, farm: Farm, reader: ReadingReader) -> int | None:
        """Return the oldest month that is not thinned, if it is old enough."""
        newest = month_of(self.clock.now_ms()) - (farm.thin_after_months or 0) - 1
        done = {month_of(each["from_ms"]) for each in self.ledger.get(KEY) or []}
        month = _held_from(reader, 0)
        while month in done:
            while month in done:
                month += 1
            month = _held_from(reader, month_ms(month))  # years may lie between
        return month if month is not None and month <= newest else None

    def _safe(self, farm: Farm, reader: ReadingReader, month: int) -> tuple[Sums, str]:
        """Return what of a month is safe elsewhere, as read there, and where that is."""
        since_ms, until_ms = month_ms(month), month_ms(month + 1)
        if farm.backup is not None:
            if not farm.backup.folder.is_dir():
                raise StoreError(f"{farm.backup.folder} is not there: nothing is thinned")
            file = farm.backup.folder / f"cormwatch-{slug(farm.name)}-raw-{_name(month)}.csv.gz"
            if not file.exists():  # what was begun before is never written again
                write_month(farm, reader, file, since_ms, until_ms)
            return read_month(file), str(file)
        if farm.mirror is None:
            raise StoreError("nothing is thinned without [backup] or [mirror]")
        query = Query(farm.mirror)
        found = {
            each: sums(query.pages(each, since_ms, until_ms)) for each in reader.channels()
        }  # fmt: skip
        return found, farm.mirror.url

    def _thin(self, farm: Farm, store: ReadingStore, safe: Sums) -> tuple[int, int]:
        total = np.zeros(2, np.int64)
        for channel, days in safe.items():
            for day, there in days.items():
                choose = _choice(farm, channel, there)
                total += store.thin(channel, day * DAY_MS, (day + 1) * DAY_MS, choose)
                time.sleep(self.breath_s)  # readings that come in meanwhile go first
        before, after = total.tolist()
        return before, after


def _held_from(reader: ReadingReader, since_ms: int) -> int | None:
    """Return the number of the first month from a time [ms] on that holds a reading, or None."""
    pages = (reader.page(each, since_ms, _EVER_MS, 1) for each in reader.channels())
    firsts = [int(page.at_ms[0]) for page in pages if len(page.at_ms)]
    return month_of(min(firsts)) if firsts else None


def _choice(farm: Farm, channel: Channel, there: Sum) -> Callable[[Series], Series | None]:
    """Return what chooses: nothing is taken away of a day that is not the same elsewhere."""
    sensor = farm.sensors.get(channel.sensor)
    gap_s = _GAP_S if sensor is None else sensor.allowed_gap_s

    def choose(series: Series) -> Series | None:
        if list(sums([series]).values()) != [there]:
            return None
        return thinned(series, TOLERANCE[channel.quantity], gap_s)

    return choose


def _name(month: int) -> str:
    return f"{month // _YEAR:04}-{month % _YEAR + 1:02}"
