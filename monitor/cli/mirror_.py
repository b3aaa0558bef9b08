"""``cormwatch mirror status | fill | verify | pull``: the readings' copy on another server."""

import argparse
import sys
from contextlib import closing
from dataclasses import replace
from typing import Any, Final

from tqdm import tqdm

from monitor.cli.common import add_farm, add_json, print_json
from monitor.cli.mirror_words import (
    Status,
    difference_json,
    say_differences,
    say_status,
    status_json,
)
from monitor.cli.opening import load_farm
from monitor.clock import SystemClock
from monitor.errors import FarmError
from monitor.farm import Farm, Mirror, parse_when
from monitor.mirror.comparing import DAY_MS, compare
from monitor.mirror.pulling import check_empty, note_pulled, pull, waiting
from monitor.mirror.querying import Query
from monitor.mirror.standing import standing_of
from monitor.store import ArrivalReader, MirrorFile, ReadingStore, lock_farm

_UNLIKE: Final = 1
_LEAVE_MS: Final = 10_000


def register(parser: argparse.ArgumentParser) -> None:
    """Add what ``mirror`` takes."""
    what = parser.add_subparsers(dest="what", required=True)
    status = what.add_parser("status", help="how far the copy is, and what was refused")
    add_farm(status)
    add_json(status)
    status.set_defaults(run=_status)
    fill = what.add_parser("fill", help="send everything that waits, with progress")
    add_farm(fill)
    fill.add_argument("--since", metavar="WHEN", help="that day (UTC) and all after it once more")
    fill.set_defaults(run=_fill)
    verify = what.add_parser("verify", help="compare counts and checksums per channel and day")
    add_farm(verify)
    add_json(verify)
    verify.add_argument("--since", metavar="WHEN", help="from the beginning of that day (UTC) on")
    verify.set_defaults(run=_verify)
    back = what.add_parser("pull", help="fill an empty store from the copy (readings only)")
    add_farm(back)
    back.add_argument("--site", metavar="S", help="whose readings (default: this farm's own site)")
    back.set_defaults(run=_pull)


def _of(args: argparse.Namespace, *, secrets_needed: bool = True) -> tuple[Farm, Mirror]:
    farm = load_farm(args, secrets_needed=secrets_needed)
    if farm.mirror is None:
        raise FarmError(
            f"{farm.directory}: farm.toml has no [mirror]: say there where readings are copied to "
            "(config/farm.toml shows how)"
        )
    return farm, farm.mirror


def _reader(farm: Farm) -> ArrivalReader:
    path = farm.data_dir / "readings.db"
    ReadingStore.open(path).close()  # makes it, or brings it up to this version
    return ArrivalReader(path)


def _day_of(text: str, farm: Farm, now_ms: int) -> int:
    """Return the beginning of the day of UTC that a time of the farm's lies in. [ms]"""
    at_ms = parse_when(text, farm.zone, now_ms)
    return at_ms - at_ms % DAY_MS


def _bar(total: int | None = None) -> "tqdm[Any]":
    return tqdm(total=total, unit=" readings", file=sys.stderr, mininterval=0.5)


def _status(args: argparse.Namespace) -> int:
    """Say how far the copy is."""
    farm, mirror = _of(args, secrets_needed=False)
    now_ms = SystemClock().now_ms()
    with closing(_reader(farm)) as reader, closing(_file(farm)) as file:
        position = file.position()
        left = waiting(reader, position.cursors, now_ms - _LEAVE_MS)
        status = Status(mirror, standing_of(mirror, file), left, file.refused())
    if args.json:
        print_json(status_json(status))
    else:
        print("\n".join(say_status(farm, status)))
    return 0


def _file(farm: Farm) -> MirrorFile:
    return MirrorFile.open(farm.data_dir / "mirror.db")


def _fill(args: argparse.Namespace) -> int:
    """Send everything that waits."""
    from monitor.mirror.filling import fill  # noqa: PLC0415 - the client library, and seldom needed
    from monitor.mirror.recorded import RecordedPlaces  # noqa: PLC0415
    from monitor.mirror.worker import Source  # noqa: PLC0415

    farm, mirror = _of(args)
    clock = SystemClock()
    _reader(farm).close()
    if args.since:
        with closing(_file(farm)) as file:
            file.set_back(_day_of(args.since, farm, clock.now_ms()))
    places = RecordedPlaces(farm.data_dir / "ledger.db", farm)
    with closing(places), _bar() as bar:

        def told(sent: int, total: int) -> None:
            bar.total = total
            bar.update(sent - bar.n)

        sent, refused = fill(mirror, Source(farm.data_dir, places, clock), told)
    print(f"{sent:,} readings sent, {refused:,} refused; nothing waits.")
    return 0


def _verify(args: argparse.Namespace) -> int:
    """Compare both sides; exit code 1 where they differ."""
    farm, mirror = _of(args)
    now_ms = SystemClock().now_ms()
    since_ms = _day_of(args.since, farm, now_ms) if args.since else 0
    with closing(_reader(farm)) as reader, closing(_file(farm)) as file:
        cursors = file.position().cursors
        with _bar(sum(reader.count(each, since_ms, cursors[each] + 1) for each in cursors)) as bar:
            found = compare(reader, Query(mirror), cursors, since_ms, lambda _, n: bar.update(n))
        left = waiting(reader, cursors, now_ms)
        refused = file.refused(1_000)
    if args.json:
        print_json(difference_json(found, left))
    else:
        print("\n".join(say_differences(found, left, refused)))
    return _UNLIKE if found.differences else 0


def _pull(args: argparse.Namespace) -> int:
    """Fill an empty store."""
    farm, mirror = _of(args)
    site = args.site or mirror.site
    query = Query(mirror, site)
    data = farm.data_dir
    data.mkdir(parents=True, exist_ok=True, mode=0o700)
    with lock_farm(data):
        check_empty(data / "readings.db")
        with _bar(sum(query.channels().values())) as bar:
            counts = pull(query, data / "readings.db", bar.update)
        note_pulled(data, replace(mirror, site=site))
    print(
        f"{sum(counts.values()):,} readings of {len(counts)} channels of the site {site} are here "
        "now.\nReadings only: batches, alarms and earlier settings are the ledger's, which is not "
        "there. Take it from a backup: cormwatch restore."
    )
    return 0
