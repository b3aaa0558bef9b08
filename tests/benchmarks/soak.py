"""Ten minutes of everything that can go wrong, and one line that says what came of it.

Run as ``python -m tests.benchmarks.soak [--seed N] [--minutes M]`` from the top of the
checkout, as the superuser (a small disk is mounted); mosquitto must be installed. The exit
code is 1 where anything was lost, doubled, missed or told without end.
"""

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from tests.system.soak.running import soak

_SHOWN: Final = 20


def main(argv: Sequence[str] | None = None) -> int:
    """Soak, print what is wrong and one summary line, and return how the run ends."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.soak", description=__doc__)
    parser.add_argument("--seed", type=int, default=1, help="what befalls, and when")
    parser.add_argument("--minutes", type=float, default=10.0, help="how long trouble comes")
    parser.add_argument("--only", nargs="+", default=(), metavar="TROUBLE", help="these alone")
    parser.add_argument("--keep", type=Path, help="a new folder for the farm's files and log")
    args = parser.parse_args(argv)
    outcome = soak(args.seed, 60.0 * args.minutes, args.only, keep=args.keep)
    for fault in outcome.faults[:_SHOWN]:
        print(fault, file=sys.stderr)
    print(outcome.summary())
    return int(bool(outcome.faults))


if __name__ == "__main__":
    sys.exit(main())
