"""Print the alarm trial's table: ``python -m tests.benchmarks.alarm_trial [--seeds N]``.

One table for coolers of the simulator, one for coolers made quite another way; under each
the references as curves, every setting that no other of its family betters. Seeds 1
and 2 of both served for tuning; the tables begin at 101.
"""

import argparse
import sys
from collections.abc import Sequence
from typing import Final

from tests.benchmarks.alarm_trial.coolers import Month, months
from tests.benchmarks.alarm_trial.curves import FAMILIES, Point, best, front, point
from tests.benchmarks.alarm_trial.detectors import Detector, habits
from tests.benchmarks.alarm_trial.other_coolers import other_months
from tests.benchmarks.alarm_trial.whole_watch import whole_watch

_FIRST_SEED: Final = 101
_OURS: Final[dict[str, Detector]] = {
    "early warning by habits": habits,
    "the whole watch": whole_watch,
}


def row(name: str, found: Point | None) -> str:
    """Return one detector's line of the table; a family may have no such setting."""
    if found is None:
        return f"| {name} | no setting | - | - | - | - |"
    setting = f", {found.setting}" if found.setting else ""
    figures = (
        f"{found.needless:.2f} | {found.for_nothing:.2f} | {found.share:.2f} | {found.worst:.2f}"
    )
    return f"| {name}{setting} | {found.caught} of {found.died} | {figures} |"


def _table(title: str, played: Sequence[Month]) -> str:
    heads = (
        "caught | a month, sound | of those, contents in band | share left, median | worst tenth"
    )
    lines = [
        f"| {title} | {heads} |",
        "|---|---|---|---|---|---|",
        *(row(name, point("", found, played)) for name, found in _OURS.items()),
    ]
    for family, settings in FAMILIES.items():
        curve = front(point(name, found, played) for name, found in settings.items())
        quiet, early = best(curve)
        lines.append(row(f"{family}: the most warning at one a month", quiet))
        lines.append(row(f"{family}: the quietest with half the time left", early))
        lines += [row("... its curve", each) for each in curve]
    return "\n".join(lines) + "\n\n"


def main() -> int:
    """Play the coolers and print the tables."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=1, help="how many sets of coolers")
    parser.add_argument("--sound", type=int, default=48)
    parser.add_argument("--dying", type=int, default=95)
    asked = parser.parse_args()
    seeds = range(_FIRST_SEED, _FIRST_SEED + asked.seeds)
    for title, made in {"the simulator's coolers": months, "unlike coolers": other_months}.items():
        played = [each for seed in seeds for each in made(asked.sound, asked.dying, seed)]
        sys.stdout.write(_table(title, played))
    return 0


if __name__ == "__main__":
    sys.exit(main())
