"""``cormwatch restore FILE``: a copy put back into an empty folder, on this machine or another."""

import argparse
import os
from pathlib import Path

from monitor.cli.common import add_farm, farm_dir
from monitor.farm import check
from monitor.store import put_back


def register(parser: argparse.ArgumentParser) -> None:
    """Add what ``restore`` takes."""
    add_farm(parser)
    parser.add_argument("file", type=Path, metavar="FILE", help="what cormwatch backup made")
    parser.set_defaults(run=restore)


def restore(args: argparse.Namespace) -> int:
    """Put the copy back, and say what its files still miss here."""
    directory = farm_dir(args)
    found = put_back(args.file, directory)
    readings = found.rows["readings.db"]["readings"]
    print(f"{directory} holds the farm as it was at {found.at}: {readings:,} readings.")
    for problem in check(directory, os.environ):
        print(problem)
    print(f"Next: cormwatch run --farm {directory}")
    print("Stop the monitor that was copied first: two would tell everything twice.")
    return 0
