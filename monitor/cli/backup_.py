"""``cormwatch backup``: the whole farm in one file, made while it is watched."""

import argparse
from datetime import datetime
from pathlib import Path
from typing import Final

from monitor.cli.common import add_farm, add_json, print_json
from monitor.cli.opening import load_farm, open_ledger
from monitor.clock import SystemClock
from monitor.daemon.backing import copy_farm, written_out
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
    copy = copy_farm(farm, _target(farm, args.to, now_ms), now_ms)
    _say(args, copy, "is made, and reads back whole", written_out(farm))
    return 0


def _held(secrets: list[str] | None) -> str:
    if secrets is None:
        return (
            "It holds whatever addresses and passwords stand written out in those files: keep it "
            "as private as them."
        )
    if not secrets:
        return "No secret stands written out in it."
    return f"SECRETS stand written out in it, so keep it as private as them: {', '.join(secrets)}."


def _target(farm: Farm, to: Path | None, now_ms: int) -> Path:
    when = datetime.fromtimestamp(now_ms / 1000, farm.zone)
    name = f"cormwatch-{when:%Y%m%dT%H%M%S%z}.zip"
    if to is None:
        return farm.directory / _FOLDER / name
    target = to / name if to.is_dir() else to
    if target.exists():
        raise StoreError(f"{target} is there already: name another file with --to")
    return target


def _say(
    args: argparse.Namespace, copy: Copied, what: str, secrets: list[str] | None = None
) -> None:
    if args.json:
        print_json({
            "path": str(copy.path), "at": copy.at, "bytes": copy.size,
            "rows": {name: dict(each) for name, each in copy.rows.items()},
            "files": list(copy.files),
            **({} if secrets is None else {"secrets": secrets}),
        })  # fmt: skip
        return
    entries, alarms = copy.rows["ledger.db"]["entries"], copy.rows["ledger.db"]["alarms"]
    readings = copy.rows["readings.db"]["readings"]
    print(
        f"{copy.path} {what}: {readings:,} readings, {entries:,} batch entries, {alarms:,} alarms, "
        f"{', '.join(copy.files)}; {copy.size / 1e6:.1f} MB."
    )
    print(_held(secrets))
    print(
        "Not in it: files under secrets/ and others that the farm's files name (addresses, tokens, "
        "certificates and their keys), the pages' passwords and tokens, who is signed in, and the "
        "embedded broker's password. Keep those apart, and keep it not only on this disk."
    )
    if args.verify is None:
        print(f"Put it back with: cormwatch restore {copy.path} --farm NEW-FOLDER")
