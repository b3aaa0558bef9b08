"""A quantity through a batch's life as one drawing: bands, harm lines, stages, what is unknown.

Geometry only, in the units of one SVG of `WIDTH` by `HEIGHT`; y runs downwards. Nothing
is drawn where nothing is known: that stretch is grey.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from monitor.batches.combining import Course
from monitor.batches.pieces import Piece
from monitor.batches.voice import Voice
from monitor.days import of_year
from monitor.model import Quantity
from monitor.phrase import Phrase
from monitor.science.checking import Floats
from monitor.units import from_celsius

WIDTH: Final = 720.0
HEIGHT: Final = 132.0
LEFT: Final = 44.0
_TOP: Final = 20.0
_FOOT: Final = 20.0
_COLUMNS: Final = 640
_LEAST_SPAN: Final = 8.0  # a level line stays level
_DAY_MS: Final = 86_400_000
_TICKS: Final = (1, 2, 5, 10, 20, 50)
_DAY_STEPS: Final = (1, 2, 3, 7, 14, 28, 56, 112)


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle. [SVG units]"""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Line:
    """A straight line, or a word at a point. [SVG units]"""

    x: float
    y: float
    x2: float
    text: str = ""


@dataclass(frozen=True, slots=True)
class Chart:
    """One drawing: shelves are ideal bands, ``edges`` harm limits, ``traces`` SVG points."""

    title: str
    shelves: tuple[Box, ...]
    edges: tuple[Line, ...]
    unknown: tuple[Box, ...]
    traces: tuple[str, ...]
    levels: tuple[Line, ...]
    days: tuple[Line, ...]
    stages: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class _Frame:
    since_ms: int
    until_ms: int
    low: float
    high: float

    def x(self, at_ms: float) -> float:
        share = (at_ms - self.since_ms) / max(self.until_ms - self.since_ms, 1)
        return LEFT + share * (WIDTH - LEFT - 4.0)

    def y(self, value: float) -> float:
        bounded = min(max(value, self.low), self.high)
        return _TOP + (self.high - bounded) / (self.high - self.low) * (HEIGHT - _TOP - _FOOT)


def draw(
    quantity: Quantity,
    met: Sequence[tuple[Piece, Mapping[Quantity, Course]]],
    stages: Mapping[str, str],
    voice: Voice,
) -> Chart | None:
    """Return the drawing of one quantity, or None where no sensor ever told of it.

    Parameters
    ----------
    quantity : Quantity
        Temperature, humidity or soil temperature.
    met : sequence of (Piece, courses)
        The batch's life in order of time.
    stages : mapping of str to str
        Each stage's name by its id.
    voice : Voice
        The farm's unit and zone.
    """
    if not any(len(courses[quantity].samples.at_ms) for _, courses in met):
        return None
    show = _shower(quantity, voice)
    frame = _frame(quantity, met, show)
    return Chart(
        title=_title(quantity, voice),
        shelves=tuple(box for part, _ in met for box in _shelf(quantity, part, frame, show)),
        edges=tuple(line for part, _ in met for line in _edges(quantity, part, frame, show)),
        unknown=tuple(
            box for part, each in met for box in _unknown(quantity, part, each[quantity], frame)
        ),
        traces=tuple(
            trace for _, each in met for trace in _traces(each[quantity], frame, show)
        ),
        levels=_levels(frame),
        days=_days(frame, voice),
        stages=_stages(met, stages, frame),
    )  # fmt: skip


def _title(quantity: Quantity, voice: Voice) -> str:
    unit = f"°{voice.unit.value}"
    return {
        Quantity.TEMPERATURE: Phrase("Air, {unit}", unit=unit),
        Quantity.HUMIDITY: Phrase("Humidity, %"),
        Quantity.SOIL_TEMPERATURE: Phrase("Soil, {unit}", unit=unit),
    }[quantity]  # fmt: skip


def _shower(quantity: Quantity, voice: Voice) -> Callable[[float], float]:
    if quantity is Quantity.HUMIDITY:
        return float
    return lambda value: from_celsius(value, voice.unit)


def _frame(
    quantity: Quantity,
    met: Sequence[tuple[Piece, Mapping[Quantity, Course]]],
    show: Callable[[float], float],
) -> _Frame:
    told = [each[quantity].samples.value for _, each in met if len(each[quantity].samples.value)]
    figures = [show(float(end(value))) for value in told for end in (np.min, np.max)]
    for part, _ in met:
        band = part.bands.get(quantity)
        for limits in (band.ideal, band.harm) if band else ():
            figures += [
                show(v) for v in ((limits.low, limits.high) if limits else ()) if v is not None
            ]
    low, high = min(figures), max(figures)
    pad = max(0.06 * (high - low), (_LEAST_SPAN - (high - low)) / 2, 1.0)
    return _Frame(met[0][0].since_ms, met[-1][0].until_ms, low - pad, high + pad)


def _shelf(
    quantity: Quantity, part: Piece, frame: _Frame, show: Callable[[float], float]
) -> list[Box]:
    band = part.bands.get(quantity)
    if band is None or band.ideal is None:
        return []
    low = frame.low if band.ideal.low is None else show(band.ideal.low)
    high = frame.high if band.ideal.high is None else show(band.ideal.high)
    x, top = frame.x(part.since_ms), frame.y(high)
    return [Box(x, top, frame.x(part.until_ms) - x, frame.y(low) - top)]


def _edges(
    quantity: Quantity, part: Piece, frame: _Frame, show: Callable[[float], float]
) -> list[Line]:
    band = part.bands.get(quantity)
    if band is None or band.harm is None:
        return []
    x, x2 = frame.x(part.since_ms), frame.x(part.until_ms)
    limits = [each for each in (band.harm.low, band.harm.high) if each is not None]
    return [Line(x, frame.y(show(each)), x2, f"{show(each):.0f}") for each in limits]


def _unknown(quantity: Quantity, part: Piece, course: Course, frame: _Frame) -> list[Box]:
    at_ms = course.samples.at_ms
    if not course.sensors and quantity is not Quantity.TEMPERATURE and quantity not in part.bands:
        return []  # nothing is wanted of it there: the soil of a room
    if not len(at_ms):
        gaps = [(part.since_ms, part.until_ms)]
    else:
        cuts = np.flatnonzero(~course.samples.joined)
        gaps = [(part.since_ms, int(at_ms[0])), (int(at_ms[-1]), part.until_ms)]
        gaps += [(int(at_ms[k]), int(at_ms[k + 1])) for k in cuts]
    found = [(frame.x(begin), frame.x(end)) for begin, end in gaps if end > begin]
    return [Box(x, _TOP, x2 - x, HEIGHT - _TOP - _FOOT) for x, x2 in found if x2 - x > 0.3]  # noqa: PLR2004 - a hairline


def _traces(course: Course, frame: _Frame, show: Callable[[float], float]) -> list[str]:
    """Return each unbroken run as points: the least and greatest of every column."""
    at_ms, value = course.samples.at_ms, course.samples.value
    if not len(at_ms):
        return []
    cuts = np.flatnonzero(~course.samples.joined) + 1
    found = []
    for times, values in zip(np.split(at_ms, cuts), np.split(value, cuts), strict=True):
        picked = _columns(times.astype(np.float64), values, frame)
        found.append(
            " ".join(f"{frame.x(times[k]):.1f},{frame.y(show(values[k])):.1f}" for k in picked)
        )
    return found


def _columns(at_ms: Floats, value: Floats, frame: _Frame) -> Sequence[int]:
    span_ms = max(frame.until_ms - frame.since_ms, 1)
    column = ((at_ms - frame.since_ms) / span_ms * _COLUMNS).astype(np.int64)
    starts = np.flatnonzero(np.diff(column, prepend=-1))
    if len(at_ms) <= 2 * len(starts):
        return range(len(at_ms))
    kept: list[int] = []
    for begin, end in zip(starts, [*starts[1:], len(at_ms)], strict=True):
        low, high = (
            begin + int(np.argmin(value[begin:end])),
            begin + int(np.argmax(value[begin:end])),
        )
        kept += sorted({int(low), int(high)})
    return kept


def _levels(frame: _Frame) -> tuple[Line, ...]:
    step = next((each for each in _TICKS if (frame.high - frame.low) / each <= 6), _TICKS[-1])  # noqa: PLR2004 - lines
    first = int(np.ceil(frame.low / step)) * step
    values = np.arange(first, frame.high, step)
    return tuple(Line(LEFT, frame.y(float(v)), WIDTH - 4.0, f"{v:g}") for v in values)


def _days(frame: _Frame, voice: Voice) -> tuple[Line, ...]:
    length_d = (frame.until_ms - frame.since_ms) / _DAY_MS
    step = next((each for each in _DAY_STEPS if length_d / each <= 10), _DAY_STEPS[-1])  # noqa: PLR2004 - marks
    marks = np.arange(0.0, length_d, step) * _DAY_MS + frame.since_ms
    return tuple(
        Line(frame.x(float(at)), HEIGHT - 5.0, 0.0, of_year(voice.date(float(at)))) for at in marks
    )


def _stages(
    met: Sequence[tuple[Piece, Mapping[Quantity, Course]]],
    names: Mapping[str, str],
    frame: _Frame,
) -> tuple[Line, ...]:
    found: list[Line] = []
    last = None
    for part, _ in met:
        if part.stage != last:
            x = frame.x(part.since_ms)
            free = not found or x - found[-1].x > 70.0  # noqa: PLR2004 - room for a word
            found.append(
                Line(x, _TOP, HEIGHT - _FOOT, names.get(part.stage, part.stage) if free else "")
            )
        last = part.stage
    return tuple(found)
