"""``cormwatch check --deep``: what the files alone cannot tell, tried and printed."""

import os
import sys
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from monitor.cli.common import print_json
from monitor.clock import SystemClock
from monitor.daemon.examining import examine
from monitor.farm import load


def run(folder: Path, rows: Sequence[dict[str, Any]] | None) -> int:
    """Print how each part is as it is tried, or all as JSON after ``rows``; 2 if one is wrong."""
    found = []
    for each in examine(load(folder, os.environ), SystemClock()):
        found.append(each)
        if rows is None:
            stream = sys.stderr if each.state == "error" else sys.stdout
            print(f"{each.state}: {each}", file=stream, flush=True)
    if rows is not None:
        print_json([*rows, *(asdict(each) for each in found)])
    return 2 if any(each.state == "error" for each in found) else 0
