"""How soon each page is seen on a phone with a slow processor and a thin connection.

Run as ``python -m tests.benchmarks.bench_pages``. A real Chromium, made four times slower
and given what it calls slow 4G (1.6 Mbit/s down, 0.75 up, 150 ms), opens each page for
the first time, from the loopback; first contentful paint is the browser's own. The
reference is the project's mark alone, a drawing of some hundred bytes, the same way.
"""

import statistics
import sys
import tempfile
from pathlib import Path
from typing import Final

from playwright.sync_api import Browser

from tests.benchmarks.table import Row, machine, printed
from tests.system.browsing import SIZES, Serving, browser
from tests.system.every_page import every_page
from tests.web.desk import furnished

FIRST_VIEW_MS: Final = 1000.0
TIMES: Final = 3
_SLOWER: Final = 4
_SLOW_4G: Final = {
    "offline": False,
    "latency": 150,
    "downloadThroughput": 1_600_000 / 8,
    "uploadThroughput": 750_000 / 8,
}
_PAINTED: Final = """() => new Promise((done) => new PerformanceObserver((list, self) => {
  const seen = list.getEntriesByName("first-contentful-paint");
  if (seen.length) { self.disconnect(); done(seen[0].startTime); }
}).observe({ type: "paint", buffered: true }))"""


def first_view_ms(chrome: Browser, address: str) -> float:
    """Return when something of a page is first seen by one who was never here. [ms]"""
    width, height = SIZES["phone"]
    context = chrome.new_context(viewport={"width": width, "height": height})
    page = context.new_page()
    thin = context.new_cdp_session(page)
    thin.send("Network.enable")
    thin.send("Network.emulateNetworkConditions", _SLOW_4G)
    thin.send("Emulation.setCPUThrottlingRate", {"rate": _SLOWER})
    page.goto(address, wait_until="commit")
    seen_ms = float(page.evaluate(_PAINTED))
    context.close()
    return seen_ms


def measured(times: int = TIMES) -> list[Row]:
    """Return the row of the slowest page, and of the first one."""
    with tempfile.TemporaryDirectory(prefix="bench-pages-") as name:
        desk = furnished(Path(name) / "farm")
        serving = Serving(desk).start()
        try:
            with browser() as chrome:
                took = {
                    path: _median_ms(chrome, f"{serving.address}{path}", times)
                    for path in every_page(serving.address)
                }
                mark_ms = _median_ms(chrome, f"{serving.address}/static/mark.svg", times)
        finally:
            serving.stop()
            desk.close()
    slowest = max(took, key=lambda path: took[path])
    shown = {"the first page": "/", f"the slowest of {len(took)}, {slowest}": slowest}
    return [_row(what, took[path], mark_ms) for what, path in shown.items()]


def _row(what: str, took_ms: float, mark_ms: float) -> Row:
    return Row(
        f"first view of {what}, slow phone, slow 4G",
        f"< {FIRST_VIEW_MS:g} ms",
        f"{took_ms:.0f} ms",
        f"the mark alone {mark_ms:.0f} ms",
        took_ms < FIRST_VIEW_MS,
    )


def _median_ms(chrome: Browser, address: str, times: int) -> float:
    return statistics.median(first_view_ms(chrome, address) for _ in range(times))


def main() -> int:
    """Print the table; return how the run ends."""
    rows = measured()
    print(machine())
    print(printed(rows))
    return int(any(row.reached is False for row in rows))


if __name__ == "__main__":
    sys.exit(main())
