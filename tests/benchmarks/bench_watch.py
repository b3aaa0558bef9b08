"""Replay of history through the watch, beside a plain loop over the same readings.

Run as ``python -m tests.benchmarks.bench_watch``; exit code 1 below what is to be reached.
The plain loop judges one limit and keeps nothing else; the watch judges every line of two
coolers and their batches, keeps states, sums and trends, and tells.
"""

import sys
import time
from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from monitor.model import Channel, Quantity
from monitor.watch import Samples, begin, plan, slices, step
from tests.watch.made import START_MS, batch, cooler, farm, sensor
from tests.watch.plain_loop import PlainLimit

REACH_PER_S = 100_000
DAYS = 30
STEP_S = 60
SENSORS = 10
SLICE_MS = 3_600_000


def _cycle(rng: np.random.Generator) -> npt.NDArray[np.float64]:
    """Return a cooler's air: a thermostat's saw, doors, defrosts, noise, a failure a week."""
    n = DAYS * 86_400 // STEP_S
    minutes = np.arange(n) * STEP_S / 60
    air = 2.8 + 0.8 * (2 * np.abs((minutes / 45.0) % 1 - 0.5) - 0.5)
    for peak, every, tau in ((3.0, 360, 12.0), (2.0, 190, 6.0)):
        air += peak * np.exp(-(minutes % every) / tau)
    air += 8.0 * ((minutes % 10_080) < 180)  # three hours out every week
    noisy: npt.NDArray[np.float64] = np.round(air + rng.normal(0.0, 0.1, n), 2)
    return noisy


def _history() -> dict[Channel, Samples]:
    rng = np.random.default_rng(20260308)
    packs = {}
    for k in range(SENSORS):
        channel = Channel(f"probe-{k}", Quantity.TEMPERATURE)
        value = _cycle(rng)
        at_ms = START_MS + np.arange(len(value), dtype=np.int64) * STEP_S * 1000 + k * 137
        packs[channel] = Samples(
            channel, at_ms, value, np.ones(len(value), dtype=np.int64), int(at_ms[-1])
        )
    return packs


def _watch(packs: dict[Channel, Samples], cut: Iterator[Samples]) -> tuple[float, int]:
    """Return readings a second through the watch, and how much it told."""
    places = [cooler(), cooler(id="second", name="Second cooler")]
    probes = [
        sensor(f"probe-{k}", (Quantity.TEMPERATURE,), places[k % 2].id) for k in range(SENSORS)
    ]
    stems = [batch(n, "cut_stems", places[n % 2].id) for n in range(4)]
    state = begin(plan(farm(places, probes), stems), START_MS)
    pieces, told = list(cut), 0
    began = time.perf_counter()
    for piece in pieces:
        stepped = step(state, piece)
        state, told = stepped.state, told + len(stepped.transitions)
    spent_s = time.perf_counter() - began
    return sum(len(each.at_ms) for each in packs.values()) / spent_s, told


def _loop(packs: dict[Channel, Samples]) -> float:
    """Return readings a second through the plain loop."""
    began = time.perf_counter()
    for pack in packs.values():
        limit = PlainLimit(5.0, 1_800_000, 0.3, 120_000, 180_000)
        for at_ms, value in zip(pack.at_ms.tolist(), pack.value.tolist(), strict=True):
            limit.take(at_ms, value)
    return sum(len(each.at_ms) for each in packs.values()) / (time.perf_counter() - began)


def main() -> int:
    """Print the table; return how the run ends."""
    packs = _history()
    loop = _loop(packs)
    rates = {}
    for name, span_ms in (("an hour", SLICE_MS), ("ten minutes", 600_000)):
        rates[name], told = _watch(packs, slices(packs, span_ms))
        print(f"watch, slices of {name:<12} {rates[name]:>12,.0f} readings/s   told {told}")
    print(f"plain loop, one limit          {loop:>12,.0f} readings/s")
    reached = rates["an hour"] >= REACH_PER_S
    print(f"to reach {REACH_PER_S:,} readings/s by the hour: {'yes' if reached else 'no'}")
    return 0 if reached else 1


if __name__ == "__main__":
    sys.exit(main())
