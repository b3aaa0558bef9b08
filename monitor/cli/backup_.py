"""``cormwatch backup``: the whole farm in one file, made while it is watched."""

import argparse
from datetime import datetime
from pathlib import Path
from typing import Final

from monitor.cli.common import add_farm, add_json, print_json
from monitor.cli.opening import load_farm, open_ledger
from monitor.clock import SystemClock
from monitor.daemon.backing import copy_farm
from monitor.errors import StoreError
from monitor.farm import Farm
from monitor.store import Copied, read_copy

_FOLDER: Final = "backups"


def register(parser: argparse.ArgumentParser) -> None:
    """Add what ``backup`` takes."""
    add_farm(parser)
    add_json(parser)
    parser.add_argument(
        "--to", type=Path, metavar="PATH",
        help=f"a file, or a folder that stands there (default: {_FOLDER} in the farm's folder)",
    )  # fmt: skip
    parser.add_argument(
        "--verify", type=Path, metavar="FILE", help="read a copy through instead of making one"
    )
    parser.set_defaults(run=backup)


def backup(args: argparse.Namespace) -> int:
    """Copy readings, ledger and files into one archive, and read it back."""
    if args.verify is not None:
        _say(args, read_copy(args.verify), "is whole")
        return 0
    farm, now_ms = load_farm(args), SystemClock().now_ms()
    open_ledger(farm).close()  # brings it up to this version, or says why not
    _say(
        args,
        copy_farm(farm, _target(farm, args.to, now_ms), now_ms),
        "is made, and reads back whole",
    )
    return 0


def _target(farm: Farm, to: Path | None, now_ms: int) -> Path:
    when = datetime.fromtimestamp(now_ms / 1000, farm.zone)
    name = f"cormwatch-{when:%Y%m%dT%H%M%S%z}.zip"
    if to is None:
        return farm.directory / _FOLDER / name
    target = to / name if to.is_dir() else to
    if target.exists():
        raise StoreError(f"{target} is there already: name another file with --to")
    return target


def _say(args: argparse.Namespace, copy: Copied, what: str) -> None:
    if args.json:
        print_json({
            "path": str(copy.path), "at": copy.at, "bytes": copy.size,
            "rows": {name: dict(each) for name, each in copy.rows.items()},
            "files": list(copy.files),
        })  # fmt: skip
        return
    entries, alarms = copy.rows["ledger.db"]["entries"], copy.rows["ledger.db"]["alarms"]
    readings = copy.rows["readings.db"]["readings"]
    print(
        f"{copy.path} {what}: {readings:,} readings, {entries:,} batch entries, {alarms:,} alarms, "
        f"{', '.join(copy.files)}; {copy.size / 1e6:.1f} MB."
    )
    print(
        "It holds whatever addresses and passwords stand written out in those files: keep it as "
        "private as them, and not only on this disk. Files that they name (secrets, certificates) "
        "are not in it."
    )
    if args.verify is None:
        print(f"Put it back with: cormwatch restore {copy.path} --farm NEW-FOLDER")
