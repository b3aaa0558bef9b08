"""Every number that is to be reached, beside its reference, in one table.

Run as ``python -m tests.benchmarks [--quick] [--only NAME …]`` from the top of the
checkout; mosquitto, influxd, nginx and victoria-metrics must be installed. The table goes to
the standard output, what is going on to the error output. In full it takes twenty minutes:
the daemon is given a year of one-minute history of fifty sensors. ``--quick`` gives it a month
and shortens the rest. The exit code is 1 where a number is not reached. What is measured, and
how, stands at the top of each ``bench_*`` module; each runs by itself too.
"""

import argparse
import contextlib
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from tests.benchmarks import (
    bench_daemon,
    bench_history,
    bench_intake,
    bench_latency,
    bench_pages,
    bench_replay,
    bench_report,
    bench_science,
    bench_store,
)
from tests.benchmarks.table import Row, machine, printed


@dataclass(frozen=True, slots=True)
class Size:
    """How much of each is measured: days of history, seconds watched, rounds."""

    messages: int
    rounds: int
    apart_s: float
    days: int
    watched_s: float
    replay_days: int
    store_days: int
    step_ms: int
    history_days: int


FULL = Size(30_000, 3, 0.1, 365, 120.0, 14, 18, bench_store.MINUTE_MS, 365)
QUICK = Size(10_000, 3, 0.05, 30, 60.0, 7, 4, 10 * bench_store.MINUTE_MS, 60)


def parts(size: Size) -> dict[str, Callable[[], Sequence[Row]]]:
    """Return each benchmark by name, ready to run."""
    latency = (bench_latency.SENSORS, bench_latency.RATE, size.apart_s)
    return {
        "intake": lambda: [bench_intake.measured(size.messages, size.rounds)],
        "latency": lambda: [bench_latency.measured(*latency)],
        "daemon": lambda: bench_daemon.measured(size.days, size.watched_s),
        "store": lambda: bench_store.measured(20, size.store_days, size.step_ms),
        "history": lambda: bench_history.measured(size.history_days),
        "science": lambda: [bench_science.measured(10)],
        "report": bench_report.measured,
        "pages": bench_pages.measured,
        "replay": lambda: [bench_replay.measured(size.replay_days, 2 * size.rounds)],
    }


def main(argv: Sequence[str] | None = None) -> int:
    """Run what is asked for, print the table, and return how the run ends."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="less history, fewer rounds")
    parser.add_argument("--only", nargs="+", choices=list(parts(QUICK)), metavar="NAME",
                        help=f"of {', '.join(parts(QUICK))}")  # fmt: skip
    args = parser.parse_args(argv)
    before, rows = machine(), list[Row]()
    for name, part in parts(QUICK if args.quick else FULL).items():
        if args.only is None or name in args.only:
            print(f"== {name}", file=sys.stderr, flush=True)
            with contextlib.redirect_stdout(sys.stderr):
                rows += part()
    print(f"before: {before}\nafter:  {machine()}\n")
    print(printed(rows))
    return int(any(row.reached is False for row in rows))


if __name__ == "__main__":
    sys.exit(main())
