"""A small picture of the last hours, for a message: the trace, the shelf, the limits.

Drawn as the pages draw a place (DEVELOPERS.md, "The look"), by a library that is imported
with the first picture and not before.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO
from itertools import pairwise
from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    from PIL.ImageDraw import ImageDraw

WIDTH: Final = 640
HEIGHT: Final = 340
_FINE: Final = 2  # drawn so much larger, then made small: smooth lines
PAPER: Final = (238, 241, 236)
SHELF: Final = (191, 224, 199)
BAND: Final = (28, 107, 63)
INK: Final = (19, 37, 27)
SOFT: Final = (74, 88, 79)
UP: Final = (168, 51, 11)
DOWN: Final = (12, 90, 146)
LEFT: Final = 12
RIGHT: Final = 560
TOP: Final = 52
BOTTOM: Final = 300
_MARGIN: Final = 0.08  # of the span shown, above and below all that is drawn
_LEAST_SPAN: Final = 2.0
_DASH: Final = 9
_TITLE_PX: Final = 24
_TEXT_PX: Final = 18


class Edge(NamedTuple):
    """A limit in the unit shown; ``name`` is what stands beside it."""

    value: float
    name: str


@dataclass(frozen=True, slots=True)
class Chart:
    """What is drawn, in the unit shown.

    ``runs`` are stretches of known points: a share of the time shown (0 to 1) and a value;
    nothing is drawn between two of them. ``shelf`` is the band, ``low`` and ``high`` harm.
    """

    title: str
    begin: str
    end: str
    runs: Sequence[Sequence[tuple[float, float]]]
    shelf: tuple[Edge | None, Edge | None] = (None, None)
    low: Edge | None = None
    high: Edge | None = None

    @property
    def edges(self) -> list[Edge]:
        """Return all the limits there are."""
        return [each for each in (*self.shelf, self.low, self.high) if each is not None]


@dataclass(frozen=True, slots=True)
class Scale:
    """From a value to its height on the picture. [px]"""

    least: float
    most: float

    def y(self, value: float) -> float:
        """Return how far down a value stands. [px]"""
        share = (value - self.least) / (self.most - self.least)
        return BOTTOM - min(max(share, 0.0), 1.0) * (BOTTOM - TOP)


def scale_of(chart: Chart) -> Scale:
    """Return the scale on which every point and every limit is seen."""
    values = [value for run in chart.runs for _, value in run] + [e.value for e in chart.edges]
    least, most = min(values), max(values)
    room = max(most - least, _LEAST_SPAN)
    middle, half = (least + most) / 2, room * (0.5 + _MARGIN)
    return Scale(middle - half, middle + half)


def x_of(share: float) -> float:
    """Return where a share of the time shown stands. [px]"""
    return LEFT + share * (RIGHT - LEFT)


def png(chart: Chart) -> bytes:
    """Return the picture as PNG.

    Raises
    ------
    ImportError
        If the library that draws is not installed.
    """
    from PIL import Image, ImageDraw  # noqa: PLC0415 - only where pictures are asked for

    size = (WIDTH * _FINE, HEIGHT * _FINE)
    image = Image.new("RGB", size, PAPER)
    _draw(_Pen(ImageDraw.Draw(image)), chart, scale_of(chart))
    small = image.reduce(_FINE)
    held = BytesIO()
    small.save(held, "PNG", optimize=True)
    return held.getvalue()


class _Pen:
    """Draws in the picture's own pixels, finer than they are."""

    def __init__(self, draw: "ImageDraw") -> None:
        self._draw = draw

    def line(
        self, points: Sequence[tuple[float, float]], ink: tuple[int, int, int], width: float
    ) -> None:
        """Draw a line through points."""
        fine = [(x * _FINE, y * _FINE) for x, y in points]
        self._draw.line(fine, fill=ink, width=round(width * _FINE), joint="curve")

    def dashed(self, y: float, ink: tuple[int, int, int]) -> None:
        """Draw a level dashed line."""
        for start in range(LEFT, RIGHT, 2 * _DASH):
            self.line([(start, y), (min(start + _DASH, RIGHT), y)], ink, 2)

    def box(self, top: float, bottom: float, ink: tuple[int, int, int]) -> None:
        """Fill from one height to another."""
        self._draw.rectangle([LEFT * _FINE, top * _FINE, RIGHT * _FINE, bottom * _FINE], fill=ink)

    def dot(self, x: float, y: float) -> None:
        """Draw a dot of ink."""
        corners = [(each - 4) * _FINE for each in (x, y)] + [(each + 4) * _FINE for each in (x, y)]
        self._draw.ellipse(corners, fill=INK)

    def text(
        self, at: tuple[float, float], said: str, ink: tuple[int, int, int], *,
        px: int = _TEXT_PX, anchor: str = "ls",
    ) -> None:  # fmt: skip
        """Write a text; the anchor says which of its corners stands there."""
        from PIL import ImageFont  # noqa: PLC0415 - see above

        font = ImageFont.load_default(px * _FINE)
        place = (at[0] * _FINE, at[1] * _FINE)
        self._draw.text(place, said, fill=ink, font=font, anchor=anchor)


def _draw(pen: _Pen, chart: Chart, scale: Scale) -> None:
    low, high = chart.shelf
    if low is not None or high is not None:
        top = TOP if high is None else scale.y(high.value)
        bottom = BOTTOM if low is None else scale.y(low.value)
        pen.box(top, bottom, SHELF)
        pen.line([(LEFT, bottom), (RIGHT, bottom)], BAND, 2)
    for edge, ink in ((chart.high, UP), (chart.low, DOWN)):
        if edge is not None:
            pen.dashed(scale.y(edge.value), ink)
    for run in chart.runs:
        points = [(x_of(share), scale.y(value)) for share, value in run]
        if len(points) > 1:
            pen.line(points, INK, 3)
        if run is chart.runs[-1] or len(points) == 1:
            pen.dot(*points[-1])
    _write(pen, chart, scale)


def _write(pen: _Pen, chart: Chart, scale: Scale) -> None:
    pen.text((LEFT, 32), chart.title, INK, px=_TITLE_PX)
    pen.text((LEFT, HEIGHT - 12), chart.begin, SOFT)
    pen.text((RIGHT, HEIGHT - 12), chart.end, SOFT, anchor="rs")
    inks = [(each, BAND) for each in chart.shelf] + [(chart.high, UP), (chart.low, DOWN)]
    named = [(scale.y(edge.value), edge.name, ink) for edge, ink in inks if edge is not None]
    heights = _apart([y for y, _, _ in named])
    for y, (_, name, ink) in zip(heights, named, strict=True):
        pen.text((RIGHT + 10, y), name, ink, anchor="lm")


def _apart(heights: Sequence[float]) -> list[float]:
    """Move names that would cover one another, each as little as may be."""
    order = sorted(range(len(heights)), key=heights.__getitem__)
    moved = list(heights)
    for above, below in pairwise(order):
        moved[below] = max(moved[below], moved[above] + _TEXT_PX)
    return moved
