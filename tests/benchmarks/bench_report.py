"""A batch's report from the store: 14 days of one-minute history, and a season compared.

Run as ``python -m tests.benchmarks.bench_report``; exit code 1 where a number is not
reached. Measured is the whole way from the files to the JSON: readings, exposures,
forecast with earlier batches, verdict. The reference is the same readings fetched by a
plain SQL statement into a list, judging nothing.
"""

import json
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

import numpy as np

from monitor.batches.rules import Seen
from monitor.report.comparing import compare, comparison_json
from monitor.report.listing import report_json
from monitor.report.making import make_report
from monitor.report.page import report_html
from tests.benchmarks.table import Row, printed
from tests.report.made import AIR, DAMP, NOW_MS, Course, Made, days_ago

REACH_MS = 100.0
REACH_SEASON_MS = 2000.0
DAYS = 14
EARLIER = 19
ROUNDS = 9


def _noisy(level: float, seed: int) -> Course:
    dice = np.random.default_rng(seed)
    return lambda day: np.asarray(
        level + np.sin(day * 40) * 0.7 + 4.0 * ((day % 3) < 0.1) + dice.normal(0, 0.1, len(day))
    )


def made_farm(folder: Path) -> tuple[Made, int]:
    """Return a farm of twenty batches, each two weeks in a room read every minute."""
    made = Made(folder)
    weeks = DAYS + 2 * EARLIER
    for quantity, level in ((AIR, 8.5), (DAMP, 88.0)):
        course = _noisy(level, len(quantity))
        made.record("sprouting-shelf", quantity, days_ago(weeks), NOW_MS, course, step_s=60)
    for number in range(EARLIER):
        begun = DAYS + 2 * (EARLIER - number)
        batch = made.corms(begun)
        made.roots(batch, begun - 9, 9)
        made.roots(batch, begun - 11, 21)
        made.plant(batch, begun - DAYS)
    batch = made.corms(DAYS)
    made.see(batch, 6, Seen(all_fine=True))
    made.roots(batch, 4, 10)
    return made, batch


def _took_ms(run: Callable[[], object]) -> float:
    took = []
    for _ in range(ROUNDS):
        begun = time.perf_counter()
        run()
        took.append((time.perf_counter() - begun) * 1000)
    return median(took)


def _plain(path: Path) -> int:
    with sqlite3.connect(path) as connection:
        rows = connection.execute(
            "SELECT at_ms, raw, flags FROM readings WHERE at_ms >= ?", (days_ago(DAYS),)
        ).fetchall()
    return len(rows)


def measured() -> list[Row]:
    """Return what a report, its page and a season's comparison take."""
    with tempfile.TemporaryDirectory() as folder:
        made, batch = made_farm(Path(folder))
        with made.sources() as sources:
            one = _took_ms(lambda: json.dumps(report_json(make_report(sources, batch))))
            page = _took_ms(lambda: report_html(make_report(sources, batch)))
            season = _took_ms(lambda: json.dumps(comparison_json(compare(sources, batch))))
            plain = _took_ms(lambda: _plain(made.farm.data_dir / "readings.db"))
        made.close()
    beside = f"plain SQL of the same readings {plain:.0f} ms"
    return [
        Row("14-day batch report, from the store", f"<= {REACH_MS:.0f} ms", f"{one:.0f} ms",
            beside, one <= REACH_MS),
        Row("the same as a page", "", f"{page:.0f} ms", "", None),
        Row("20 batches compared", f"<= {REACH_SEASON_MS:.0f} ms", f"{season:.0f} ms", "",
            season <= REACH_SEASON_MS),
    ]  # fmt: skip


def main() -> int:
    """Print the table, and return how the run ends."""
    rows = measured()
    print(printed(rows))
    return int(any(row.reached is False for row in rows))


if __name__ == "__main__":
    sys.exit(main())
