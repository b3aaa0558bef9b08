"""Draws a place as a scale: its band a shelf, the last day a trace that runs into it.

Everything here is geometry in the units of one SVG drawing; no figure is judged.
"""

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from monitor.web.trails import Trail

HEIGHT: Final = 128.0
POST_X: Final = 248.0
_WEDGE: Final = (264.0, 290.0)
_PAD: Final = 8.0
_TEXT_HEIGHT: Final = 12.0
_ROOM: Final = 0.35
"""How far the drawing reaches beyond the shelf at least, as a share of its height."""
_FAR: Final = 3.0
"""A harm limit further from all else than so many times the rest is left out of sight."""

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Limits:
    """The limits to draw, in the unit shown; None where there is none."""

    low: float | None = None
    high: float | None = None
    harm_low: float | None = None
    harm_high: float | None = None


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
    clouds: tuple[str, ...]
    shelf_top: float | None
    shelf_height: float | None
    low_edge: float | None
    high_edge: float | None
    mark: float | None
    contents: float | None
    wedge: str
    ticks: tuple[Tick, ...]


@dataclass(frozen=True, slots=True)
class Axis:
    """Which values the drawing spans."""

    low: float
    high: float

    def y(self, value: float) -> float:
        """Return the height of a value in the drawing; beyond it, its edge."""
        share = (self.high - value) / (self.high - self.low)
        return _PAD + min(1.0, max(0.0, share)) * (HEIGHT - 2 * _PAD)

    def ys(self, values: Floats) -> Floats:
        """Return the heights of many values."""
        share = np.clip((self.high - values) / (self.high - self.low), 0.0, 1.0)
        return np.asarray(_PAD + share * (HEIGHT - 2 * _PAD))

    def holds(self, value: float | None) -> bool:
        """Return whether a value is within the drawing."""
        return value is not None and self.low <= value <= self.high


def _axis(limits: Limits, values: Sequence[float]) -> Axis:
    shelf = [each for each in (limits.low, limits.high) if each is not None]
    harm = [each for each in (limits.harm_low, limits.harm_high) if each is not None]
    figures = [*shelf, *values] or harm
    if not figures:
        return Axis(0.0, 1.0)
    low, high = min(figures), max(figures)
    reach = max(high - low, 1.0)
    near = [each for each in harm if low - _FAR * reach <= each <= high + _FAR * reach]
    low, high = min([low, *near]), max([high, *near])
    pad = max((high - low) * 0.08, _ROOM * (max(shelf) - min(shelf) if shelf else 0.0), 0.5)
    return Axis(low - pad, high + pad)


def _runs(trail: Trail) -> list[slice]:
    """Cut a trace where readings stand further apart than the allowed gap."""
    breaks = np.flatnonzero(np.diff(trail.at_ms) > trail.gap_ms) + 1
    edges = [0, *breaks.tolist(), len(trail.at_ms)]
    return [slice(a, b) for a, b in itertools.pairwise(edges) if b > a]


def _line(xs: Floats, ys: Floats) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in zip(xs.tolist(), ys.tolist(), strict=True))


def _cloud(xs: Floats, top: Floats, foot: Floats) -> str:
    return f"{_line(xs, top)} {_line(xs[::-1], foot[::-1])}"


def draw(
    limits: Limits,
    trail: Trail,
    span: tuple[int, int],
    mark: float | None = None,
    contents: float | None = None,
    *,
    ahead: tuple[float, float] | None = None,
) -> Scale:
    """Lay out one place's scale.

    Parameters
    ----------
    limits : Limits
        In the unit shown.
    trail : Trail
        What runs into the scale, oldest first; may be empty.
    span : tuple of int
        From when to when the trace runs, its end at the scale's post. [ms]
    mark, contents : float or None
        The newest value, and what is kept there as estimated, in the unit shown.
    ahead : tuple of float or None
        Between which values it is likely to be in an hour.

    Returns
    -------
    Scale
        Positions in SVG units; a part that is not known is None or empty.
    """
    marks = [each for each in (mark, contents, *(ahead or ())) if each is not None]
    axis = _axis(limits, [*trail.low.tolist(), *trail.high.tolist(), *marks])
    since_ms, until_ms = span
    xs = np.asarray(np.clip((trail.at_ms - since_ms) / max(until_ms - since_ms, 1), 0, 1) * POST_X)
    middle, top, foot = (axis.ys(each) for each in (trail.mean, trail.high, trail.low))
    runs = _runs(trail)
    shelf = _shelf(limits, axis)
    return Scale(
        traces=tuple(_line(xs[run], middle[run]) for run in runs),
        clouds=tuple(_cloud(xs[run], top[run], foot[run]) for run in runs if trail.bucketed),
        shelf_top=shelf[0] if shelf else None,
        shelf_height=shelf[1] - shelf[0] if shelf else None,
        low_edge=_edge(limits.harm_low, axis),
        high_edge=_edge(limits.harm_high, axis),
        mark=None if mark is None else axis.y(mark),
        contents=None if contents is None else axis.y(contents),
        wedge="" if mark is None or ahead is None else _wedge(axis, mark, ahead),
        ticks=_ticks(limits, axis),
    )


def _wedge(axis: Axis, mark: float, ahead: tuple[float, float]) -> str:
    """Return the next hour: from the mark to where it may be by then."""
    (near, far), (low, high) = _WEDGE, ahead
    xs = np.array([near, far, far])
    return _line(xs, axis.ys(np.array([mark, high, low])))


def _shelf(limits: Limits, axis: Axis) -> tuple[float, float] | None:
    """Return top and foot of the shelf; a side without a limit runs to the drawing's edge."""
    if limits.low is None and limits.high is None:
        return None
    top = axis.y(axis.high if limits.high is None else limits.high)
    return top, max(top, axis.y(axis.low if limits.low is None else limits.low))


def _edge(value: float | None, axis: Axis) -> float | None:
    return axis.y(value) if value is not None and axis.holds(value) else None


def _ticks(limits: Limits, axis: Axis) -> tuple[Tick, ...]:
    """Write each limit once, dropping one that would stand on another."""
    wanted = (
        (limits.low, "shelf"), (limits.high, "shelf"),
        (limits.harm_low, "low"), (limits.harm_high, "high"),
    )  # fmt: skip
    ticks: list[Tick] = []
    for value, kind in wanted:
        if value is None or not axis.holds(value) or _taken(axis.y, value, ticks):
            continue
        ticks.append(Tick(axis.y(value), f"{value:.1f}".removesuffix(".0"), kind))
    return tuple(ticks)


def _taken(y: Callable[[float], float], value: float, ticks: Sequence[Tick]) -> bool:
    return any(abs(y(value) - tick.y) < _TEXT_HEIGHT for tick in ticks)
