"""Draws a place as a scale: its band a shelf, the last day a trace that runs into it.

Everything here is geometry in the units of one SVG drawing; no figure is judged.
"""

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from monitor.model import Band

WIDTH: Final = 320.0
HEIGHT: Final = 132.0
POST_X: Final = 262.0
_PAD: Final = 8.0
_TEXT_HEIGHT: Final = 11.0


@dataclass(frozen=True, slots=True)
class Tick:
    """A figure written beside the scale."""

    y: float
    text: str
    kind: str  # "shelf", "low", "high"


@dataclass(frozen=True, slots=True)
class Scale:
    """The drawing of one place: positions in SVG units, y downwards."""

    traces: tuple[str, ...]
    shelf_top: float | None
    shelf_height: float | None
    low_edge: float | None
    high_edge: float | None
    mark: float | None
    contents: float | None
    ticks: tuple[Tick, ...]


@dataclass(frozen=True, slots=True)
class Trace:
    """What is drawn: times [ms] and values in the shown unit, with breaks over ``gap_ms``."""

    at_ms: npt.NDArray[np.int64]
    value: npt.NDArray[np.float64]
    gap_ms: float


def _bounds(band: Band | None, values: Sequence[float]) -> tuple[float, float]:
    figures = [*values]
    if band and band.ideal:
        figures += [v for v in (band.ideal.low, band.ideal.high) if v is not None]
    if band and band.harm:
        figures += [v for v in (band.harm.low, band.harm.high) if v is not None]
    if not figures:
        return 0.0, 1.0
    low, high = min(figures), max(figures)
    pad = max((high - low) * 0.08, 0.5)
    return low - pad, high + pad


def _runs(trace: Trace) -> list[slice]:
    """Cut a trace where readings stand further apart than the allowed gap."""
    breaks = np.flatnonzero(np.diff(trace.at_ms) > trace.gap_ms) + 1
    edges = [0, *breaks.tolist(), len(trace.at_ms)]
    return [slice(a, b) for a, b in itertools.pairwise(edges) if b > a]


def _polyline(xs: npt.NDArray[np.float64], ys: npt.NDArray[np.float64]) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in zip(xs, ys, strict=True))


def draw(
    band: Band | None, trace: Trace, since_ms: int, until_ms: int, contents: float | None
) -> Scale:
    """Lay out one place's scale.

    Parameters
    ----------
    band : Band or None
        Its limits, already in the unit shown.
    trace : Trace
        The readings to run into the scale, oldest first; may be empty.
    since_ms, until_ms : int
        The span the trace covers, its end at the scale's post. [ms]
    contents : float or None
        What is kept there, as estimated, in the unit shown.

    Returns
    -------
    Scale
        Positions in SVG units; a part that is not known is None or empty.
    """
    values = trace.value.tolist() + ([contents] if contents is not None else [])
    low, high = _bounds(band, values)

    def y(value: float) -> float:
        return _PAD + (high - value) / (high - low) * (HEIGHT - 2 * _PAD)

    ys = _PAD + (high - trace.value) / (high - low) * (HEIGHT - 2 * _PAD)
    xs = (trace.at_ms - since_ms) / max(until_ms - since_ms, 1) * POST_X
    traces = tuple(_polyline(xs[run], ys[run]) for run in _runs(trace))
    ideal, harm = (band.ideal, band.harm) if band else (None, None)
    shelf_top = y(ideal.high if ideal.high is not None else high) if ideal else None
    shelf_foot = y(ideal.low if ideal.low is not None else low) if ideal else None
    return Scale(
        traces=traces,
        shelf_top=shelf_top,
        shelf_height=None if shelf_top is None or shelf_foot is None else shelf_foot - shelf_top,
        low_edge=y(harm.low) if harm and harm.low is not None else None,
        high_edge=y(harm.high) if harm and harm.high is not None else None,
        mark=float(ys[-1]) if len(ys) else None,
        contents=y(contents) if contents is not None else None,
        ticks=_ticks(band, y),
    )


def _ticks(band: Band | None, y: Callable[[float], float]) -> tuple[Tick, ...]:
    """Write each limit once, dropping one that would stand on another."""
    wanted: list[tuple[float | None, str]] = []
    if band and band.ideal:
        wanted += [(band.ideal.low, "shelf"), (band.ideal.high, "shelf")]
    if band and band.harm:
        wanted += [(band.harm.low, "low"), (band.harm.high, "high")]
    ticks: list[Tick] = []
    for value, kind in wanted:
        if value is None or any(abs(y(value) - tick.y) < _TEXT_HEIGHT for tick in ticks):
            continue
        ticks.append(Tick(y(value), f"{value:.4g}", kind))
    return tuple(ticks)
