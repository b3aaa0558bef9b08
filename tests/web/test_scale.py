"""The drawing of a place: to scale, broken where nothing is known, never off its sheet."""

import numpy as np
import pytest

from monitor.web.scale import HEIGHT, POST_X, Limits, draw
from monitor.web.trails import NOTHING, Trail

SPAN = (0, 86_400_000)
COOLER = Limits(low=36.0, high=40.0, harm_low=33.0, harm_high=42.0)


def _trail(*points: tuple[float, float]) -> Trail:
    hours, values = np.array(points, dtype=np.float64).T
    at = (hours * 3_600_000).astype(np.int64)
    return Trail(at, values, values, values, gap_ms=7_200_000, bucketed=False)


def _points(line: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in (pair.split(",") for pair in line.split())]


def test_the_shelf_is_drawn_to_scale() -> None:
    """The shelf of four degrees is four times as high as one degree between harm and shelf."""
    scale = draw(COOLER, NOTHING, SPAN)
    assert scale.shelf_top is not None
    assert scale.shelf_height is not None
    assert scale.high_edge is not None
    per_degree = scale.shelf_height / 4
    assert scale.shelf_top - scale.high_edge == pytest.approx(2 * per_degree)
    assert scale.low_edge == pytest.approx(scale.shelf_top + 7 * per_degree)


def test_a_gap_breaks_the_trace() -> None:
    """Readings further apart than allowed are not joined."""
    trail = _trail((0, 37), (1, 38), (2, 38), (12, 37), (13, 37))
    assert [len(_points(each)) for each in draw(COOLER, trail, SPAN).traces] == [3, 2]


def test_the_trace_runs_into_the_post() -> None:
    """The span's end is at the post, its beginning at the left edge, a later time no further."""
    points = _points(draw(COOLER, _trail((0, 37), (1, 37)), (0, 3_600_000)).traces[0])
    assert points[0][0] == 0
    assert points[-1][0] == POST_X
    assert (
        _points(draw(COOLER, _trail((0, 37), (2, 37)), (0, 3_600_000)).traces[0])[-1][0] == POST_X
    )


@pytest.mark.parametrize("far", [-1e6, 1e6])
def test_a_wild_value_stays_on_the_sheet(far: float) -> None:
    """One value far off squeezes the shelf; nothing leaves the drawing."""
    scale = draw(COOLER, _trail((1, 37), (2, far)), SPAN, mark=far)
    assert scale.mark is not None
    heights = [y for _, y in _points(scale.traces[0])]
    assert 0 <= min([*heights, scale.mark]) <= max([*heights, scale.mark]) <= HEIGHT


def test_a_far_harm_limit_does_not_squeeze_the_shelf() -> None:
    """A limit many bands away is not drawn."""
    scale = draw(Limits(low=15.0, high=25.0, harm_low=-200.0), NOTHING, SPAN)
    assert scale.low_edge is None
    assert scale.shelf_height is not None
    assert scale.shelf_height > HEIGHT / 2


def test_one_sided_shelf_runs_to_the_edge() -> None:
    """A band with an upper limit alone fills the drawing below it."""
    scale = draw(Limits(high=85.0), _trail((1, 70), (2, 90)), SPAN)
    assert scale.shelf_top is not None
    assert scale.shelf_height is not None
    assert scale.shelf_top + scale.shelf_height == pytest.approx(HEIGHT - 8)


def test_nothing_known_draws_nothing_wrong() -> None:
    """Without limits and readings there is no shelf, no mark and no figure."""
    scale = draw(Limits(), NOTHING, SPAN)
    assert (scale.traces, scale.ticks, scale.mark, scale.shelf_top) == ((), (), None, None)


def test_figures_beside_the_scale_do_not_overlap() -> None:
    """Of two limits at nearly the same height one figure is written."""
    close = draw(Limits(low=36.0, high=40.0, harm_high=40.1), NOTHING, SPAN)
    assert [each.text for each in close.ticks] == ["36", "40"]


def test_the_next_hour_opens_from_the_mark() -> None:
    """The wedge begins at the air's mark, to the right of now, and ends at both likely values."""
    scale = draw(COOLER, _trail((23, 37), (24, 38)), SPAN, mark=38.0, ahead=(37.0, 41.0))
    begin, high, low = _points(scale.wedge)
    assert begin[0] > POST_X
    assert begin[1] == pytest.approx(scale.mark, abs=0.1)
    assert high[1] < begin[1] < low[1]
    assert high[0] == low[0] > begin[0]
    assert scale.shelf_height is not None
    assert low[1] - high[1] == pytest.approx(scale.shelf_height, abs=0.2)  # four degrees both


def test_without_a_mark_there_is_no_wedge() -> None:
    """What is not known now has no next hour."""
    assert draw(COOLER, NOTHING, SPAN, ahead=(37.0, 41.0)).wedge == ""
