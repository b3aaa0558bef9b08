"""``cormwatch check``: read the farm's files and name every mistake."""

import argparse
import os
import sys
from collections.abc import Sized
from dataclasses import asdict

from monitor.cli.common import add_farm, add_json, farm_dir, print_json
from monitor.farm import Problem, check, load


def register(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of ``check``."""
    add_farm(parser)
    add_json(parser)
    parser.add_argument(
        "--deep", action="store_true",
        help="try broker, addresses, disk, clock and sensors too; nothing is sent to anybody",
    )  # fmt: skip
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print the problems: 2 if there is a mistake, 0 if there are only warnings."""
    problems = check(farm_dir(args), os.environ)
    wrong = [each for each in problems if each.severity == "error"]
    rows = [{**asdict(each), "value": each.value or None} for each in problems]
    if not args.json:
        _print(args, problems, len(wrong))
    if args.deep and not wrong:
        from monitor.cli import check_deep  # noqa: PLC0415 - a plain check needs none of it

        return check_deep.run(farm_dir(args), rows if args.json else None)
    if args.json:
        print_json(rows)
    return 2 if wrong else 0


def _print(args: argparse.Namespace, problems: list[Problem], wrong: int) -> None:
    for problem in problems:
        stream = sys.stderr if problem.severity == "error" else sys.stdout
        print(f"{problem.severity}: {problem}", file=stream)
    if wrong:
        count = "1 mistake" if wrong == 1 else f"{wrong} mistakes"
        print(f"cormwatch check: {count} in {farm_dir(args)}", file=sys.stderr)
        return
    farm = load(farm_dir(args), os.environ)
    verdict = "is sound"
    if problems:
        verdict = f"can be used, with {_counted(problems, 'warning')}"
    print(
        f"{farm.name} {verdict}: {_counted(farm.places, 'place')}, "
        f"{_counted(farm.sensors, 'sensor')}, {_counted(farm.crops, 'crop')}, "
        f"{_counted(farm.people, 'person', 'people')}."
    )


def _counted(things: Sized, one: str, many: str = "") -> str:
    """Return how many there are, in the singular where it is one."""
    return f"{len(things)} {one if len(things) == 1 else many or f'{one}s'}"
