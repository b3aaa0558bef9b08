"""Print each formula, its source and the worst error against it.

Run as ``python -m tests.outside.table``; exit code 1 if an error is over what is allowed.
"""

import sys
from typing import Final

from tests.outside import air_checks, body_checks, field_checks, time_checks
from tests.outside.checking import Check

CHECKS: Final[list[Check]] = [
    *air_checks.CHECKS,
    *body_checks.CHECKS,
    *time_checks.CHECKS,
    *field_checks.CHECKS,
]


def main() -> int:
    """Print the table; return how the run ends."""
    wrong = 0
    print(f"{'formula':<50} {'against':<46} {'worst':>10} {'allowed':>9}  unit")
    for check in CHECKS:
        if check.runnable:
            worst = check.worst()
            bad = not worst <= check.allowed
            wrong += bad
            said = f"{worst:10.2g}" + (" !" if bad else "  ")
        else:
            said = "  not here  "
        print(f"{check.formula:<50} {check.source:<46} {said}{check.allowed:>8.2g}  {check.unit}")
    print(f"{len(CHECKS)} checks, {wrong} over what is allowed")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
