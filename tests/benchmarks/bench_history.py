"""Reading history back, beside InfluxDB and victoria-metrics with the same readings.

Run as ``python -m tests.benchmarks.bench_history [--days N]`` from the top of the checkout;
influxd, nginx and victoria-metrics must be installed. Twenty channels with a two-decimal
reading a minute go into all three. Asked is what a page asks: a fortnight of one channel as
read, and all of the days of one and of twenty channels at a thousand points, each with the
lowest, highest and mean. A server's time ends with its answer received, not yet parsed; ours
ends with arrays in the process. victoria-metrics' store of answers is left out (``nocache``).
"""

import argparse
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from urllib.parse import urlencode
from urllib.request import Request, urlopen

from monitor.model import Channel, Quantity
from monitor.store import Commit, ReadingReader, ReadingStore
from tests.benchmarks.bench_store import DAY_MS, MINUTE_MS, T0_MS, best_ms, celsius, rounds
from tests.benchmarks.table import Row, machine, printed
from tests.system.series_servers import Influx, Victoria

CHANNELS = 20
POINTS = 1_000
YEAR = 365
FIRST_MS = T0_MS - 2 * YEAR * DAY_MS
"""victoria-metrics takes no reading of the future."""
_TOGETHER = 500  # minutes of all channels in one commit and one request
_NAMES = [f"sensor-{k}" for k in range(CHANNELS)]


@dataclass(frozen=True, slots=True)
class Asked:
    """The three questions to one store, ready to be put."""

    fortnight: Callable[[], object]
    one: Callable[[], object]
    twenty: Callable[[], object]

    def times_ms(self) -> tuple[float, float, float]:
        """Return the best of five times of each. [ms]"""
        return best_ms(self.fortnight), best_ms(self.one), best_ms(self.twenty)


@dataclass(frozen=True, slots=True)
class Span:
    """What is asked for. [ms]"""

    days: int

    @property
    def until_ms(self) -> int:
        """Return the end of it all."""
        return FIRST_MS + self.days * DAY_MS

    @property
    def fortnight_ms(self) -> int:
        """Return where the last fortnight begins."""
        return max(FIRST_MS, self.until_ms - 14 * DAY_MS)

    @property
    def step_s(self) -> int:
        """Return how far apart a thousand points of it are. [s]"""
        return self.days * DAY_MS // POINTS // 1000


def answer(address: str, **words: object) -> bytes:
    """Return the whole answer to a question put as a form."""
    with urlopen(Request(address, urlencode(words).encode()), timeout=300) as found:  # noqa: S310
        body: bytes = found.read()
    return body


def ours(reader: ReadingReader, span: Span) -> Asked:
    """Return the questions to our own store."""
    channels = [Channel(name, Quantity.TEMPERATURE) for name in _NAMES]

    def drawn(channel: Channel) -> object:
        return reader.drawn(channel, FIRST_MS, span.until_ms, POINTS)

    return Asked(
        lambda: reader.series(channels[0], span.fortnight_ms, span.until_ms),
        lambda: drawn(channels[0]),
        lambda: [drawn(each) for each in channels],
    )


def of_influx(server: Influx, span: Span) -> Asked:
    """Return the questions to InfluxDB, in its own language."""

    def ask(text: str) -> bytes:
        return answer(f"http://127.0.0.1:{server.port}/query", db="farms", q=text, epoch="ms")

    def within(since_ms: int) -> str:
        return f"time >= {since_ms}ms AND time < {span.until_ms}ms"

    shown = "SELECT min(v), max(v), mean(v) FROM air WHERE"
    every = f"GROUP BY time({span.step_s}s)"
    one = f"sensor = '{_NAMES[0]}' AND"
    return Asked(
        lambda: ask(f"SELECT v FROM air WHERE {one} {within(span.fortnight_ms)}"),
        lambda: ask(f"{shown} {one} {within(FIRST_MS)} {every}"),
        lambda: ask(f"{shown} {within(FIRST_MS)} {every}, sensor"),
    )


def of_victoria(server: Victoria, span: Span) -> Asked:
    """Return the questions to victoria-metrics: as exported, and rolled up by step."""
    one = f'air_v{{sensor="{_NAMES[0]}"}}'

    def rolled(what: str) -> bytes:
        return answer(
            f"{server.url}/api/v1/query_range", query=f"rollup({what}[{span.step_s}s])",
            start=FIRST_MS / 1000, end=span.until_ms / 1000, step=f"{span.step_s}s", nocache=1,
        )  # fmt: skip

    since_s, until_s = span.fortnight_ms / 1000, span.until_ms / 1000
    export = f"{server.url}/api/v1/export"
    return Asked(
        lambda: answer(export, **{"match[]": one}, start=since_s, end=until_s),
        lambda: rolled(one),
        lambda: rolled("air_v"),
    )


def fill(span: Span, store: ReadingStore, influx: Influx, victoria: Victoria) -> int:
    """Put the same readings into all three; return how many."""
    addresses = (
        f"http://127.0.0.1:{influx.port}/write?db=farms&precision=ms",
        f"{victoria.url}/write?precision=ms",
    )
    count = 0
    for at_ms, steps in _pieces(span):
        moved = at_ms - T0_MS
        work = [
            replace(each, at_ms=each.at_ms + moved, received_ms=each.received_ms + moved)
            for step in rounds(celsius, CHANNELS, steps, MINUTE_MS) for each in step
        ]  # fmt: skip
        store.commit(Commit(readings=work))
        lines = [f"air,sensor={each.channel.sensor} v={each.raw!r} {each.at_ms}" for each in work]
        for address in addresses:
            with urlopen(Request(address, "\n".join(lines).encode()), timeout=60):  # noqa: S310
                pass
        count += len(work)
    return count


def _pieces(span: Span) -> Iterator[tuple[int, int]]:
    minutes = span.days * DAY_MS // MINUTE_MS
    for first in range(0, minutes, _TOGETHER):
        yield FIRST_MS + first * MINUTE_MS, min(_TOGETHER, minutes - first)


def measured(days: int = YEAR) -> list[Row]:
    """Return a row for each question, ours beside both servers. [ms]"""
    span = Span(days)
    with tempfile.TemporaryDirectory(prefix="bench-history-") as name:
        folder = Path(name)
        influx, victoria = Influx(folder).start(), Victoria(folder).start()
        store = ReadingStore.open(folder / "readings.db")
        try:
            count = fill(span, store, influx, victoria)
            answer(f"{victoria.url}/internal/force_flush")
            reader = store.reader()
            mine, theirs = ours(reader, span).times_ms(), of_influx(influx, span).times_ms()
            others = of_victoria(victoria, span).times_ms()
            reader.close()
        finally:
            store.close()
            victoria.stop()
            influx.stop()
    asked = (
        f"{min(days, 14)} days of one channel as read",
        f"{days} days of one channel, {POINTS} points",
        f"{days} days of {CHANNELS} channels, {POINTS} points each",
    )
    return [
        Row(
            f"{what} (of {count:,} readings)", "ahead of both servers", f"{own:.1f} ms",
            f"InfluxDB {influx_ms:,.1f} ms, victoria-metrics {victoria_ms:,.1f} ms",
            own < min(influx_ms, victoria_ms),
        )
        for what, own, influx_ms, victoria_ms in zip(asked, mine, theirs, others, strict=True)
    ]  # fmt: skip


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", type=int, default=YEAR)
    args = parser.parse_args()
    print(f"before: {machine()}", file=sys.stderr)
    print(printed(measured(args.days)))
    print(f"after: {machine()}")


if __name__ == "__main__":
    main()
