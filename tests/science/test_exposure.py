"""Time outside limits, over straight lines between samples with gaps."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.errors import OutOfRangeError
from monitor.model.band import Side
from monitor.science import exposure

MINUTE_MS = 60_000


def samples(minutes: list[float], values: list[float], gap_min: float = 10.0) -> exposure.Samples:
    """Return samples at minutes, interpolated over at most ``gap_min``."""
    at_ms = np.array([round(minute * MINUTE_MS) for minute in minutes], dtype=np.int64)
    return exposure.Samples(at_ms, np.array(values, dtype=np.float64), gap_min * 60.0)


RAMP = samples([0, 5, 10, 15, 20], [0, 0, 10, 10, 0])


def test_crossings_are_exact_on_the_line() -> None:
    """A run begins and ends where the straight line meets the limit."""
    (run,) = exposure.excursions(RAMP, Side.HIGH, 5.0)
    assert (run.from_ms, run.until_ms) == (7.5 * MINUTE_MS, 17.5 * MINUTE_MS)
    assert (run.peak, run.peak_at_ms) == (10.0, 10 * MINUTE_MS)
    assert run.duration_s == 600.0
    # two triangles of 2.5 min x 5 K and a rectangle of 5 min x 5 K
    assert run.degree_hours == pytest.approx((2 * 6.25 + 25.0) / 60.0)
    assert run.began
    assert run.ended


def test_the_low_side_mirrors_the_high_side() -> None:
    """Below a limit the same figures hold, with the least value as the peak."""
    mirrored = samples([0, 5, 10, 15, 20], [0, 0, -10, -10, 0])
    (low,) = exposure.excursions(mirrored, Side.LOW, -5.0)
    (high,) = exposure.excursions(RAMP, Side.HIGH, 5.0)
    assert (low.from_ms, low.until_ms, low.degree_hours) == (
        high.from_ms, high.until_ms, high.degree_hours,
    )  # fmt: skip
    assert low.peak == -10.0
    assert low.side is Side.LOW


def test_the_limit_itself_counts_as_outside_only_where_asked() -> None:
    """For harm the limit value is outside; for an ideal band it is inside."""
    level = samples([0, 5, 10], [5.0, 5.0, 5.0])
    assert exposure.time_outside_s(level, Side.HIGH, 5.0) == 600.0
    assert exposure.time_outside_s(level, Side.HIGH, 5.0, limit_is_out=False) == 0.0
    assert len(exposure.excursions(level, Side.HIGH, 5.0, limit_is_out=False)) == 0
    assert exposure.band_exposure(level, None, 5.0).inside_s == 600.0
    assert exposure.band_exposure(level, None, 5.0, limit_is_out=True).above_s == 600.0


def test_a_touch_of_a_harm_limit_is_an_excursion_of_no_length() -> None:
    """One sample exactly on the limit is outside for no time, and is listed."""
    (run,) = exposure.excursions(samples([0, 5, 10], [4.0, 5.0, 4.0]), Side.HIGH, 5.0)
    assert run.duration_s == 0.0
    assert run.peak == 5.0


def test_a_gap_is_neither_inside_nor_outside() -> None:
    """A run broken by a gap becomes two whose broken ends are marked as unseen."""
    broken = samples([0, 5, 30, 35], [10.0, 10.0, 10.0, 0.0])
    first, second = exposure.excursions(broken, Side.HIGH, 5.0)
    assert (first.began, first.ended, first.duration_s) == (False, False, 300.0)
    assert (second.began, second.ended, second.duration_s) == (False, True, 150.0)
    assert broken.known_s == 600.0
    assert exposure.band_exposure(broken, 0.0, 5.0).above_s == 450.0


def test_the_allowed_gap_itself_is_still_interpolated() -> None:
    """A step of exactly the allowed gap is known, one second more is not."""
    assert samples([0, 10], [1.0, 2.0]).known_s == 600.0
    assert samples([0, 10 + 1 / 60], [1.0, 2.0]).known_s == 0.0


def test_a_single_sample_outside_is_a_run_of_no_known_time() -> None:
    """One reading over the limit is told, though it lasted no known time."""
    (run,) = exposure.excursions(samples([3], [9.0]), Side.HIGH, 5.0)
    assert (run.duration_s, run.peak, run.began, run.ended) == (0.0, 9.0, False, False)


def test_nothing_known_gives_no_figures() -> None:
    """Without samples there is no mean, no extreme, no run, and no coverage."""
    empty = samples([], [])
    assert exposure.mean(empty) is None
    assert exposure.extremes(empty) is None
    assert len(exposure.excursions(empty, Side.HIGH, 5.0)) == 0
    assert exposure.coverage(empty, 0, MINUTE_MS) == 0.0
    assert exposure.unknown_spans(empty, 0, MINUTE_MS).tolist() == [[0, MINUTE_MS]]
    assert exposure.band_exposure(empty, 0.0, 5.0).inside_share is None
    assert exposure.mean(samples([1], [4.0])) is None


def test_a_stretch_of_exactly_the_tolerated_time_breaks_the_rule() -> None:
    """The consecutive rule counts the limit of time as it counts the limit of value."""
    runs = exposure.excursions(RAMP, Side.HIGH, 5.0)
    assert exposure.rule_break(runs, 600.0).consecutive_ms == 17.5 * MINUTE_MS
    assert exposure.rule_break(runs, 601.0).consecutive_ms is None


def test_the_cumulative_rule_breaks_inside_the_run_that_completes_it() -> None:
    """Two runs of 10 min with 15 min allowed in sum: broken 5 min into the second."""
    twice = samples([0, 1, 11, 12, 20, 21, 31, 32], [0, 10, 10, 0, 0, 10, 10, 0])
    runs = exposure.excursions(twice, Side.HIGH, 10.0)
    broken = exposure.rule_break(runs, 3600.0, cumulative_s=900.0)
    assert broken == (None, 26 * MINUTE_MS)
    assert exposure.rule_break(runs, 3600.0, cumulative_s=1201.0).cumulative_ms is None


def test_a_period_is_clipped_on_the_line() -> None:
    """A stay that begins between samples begins with the interpolated value."""
    part = exposure.clip(RAMP, round(7.5 * MINUTE_MS), 12 * MINUTE_MS)
    assert part.at_ms.tolist() == [7.5 * MINUTE_MS, 10 * MINUTE_MS, 12 * MINUTE_MS]
    assert part.value.tolist() == [5.0, 10.0, 10.0]


def test_a_period_is_never_clipped_into_a_gap() -> None:
    """No end is invented where the value is unknown."""
    broken = samples([0, 5, 30], [1.0, 2.0, 3.0])
    part = exposure.clip(broken, 10 * MINUTE_MS, 40 * MINUTE_MS)
    assert part.at_ms.tolist() == [30 * MINUTE_MS]
    assert exposure.unknown_spans(broken, 0, 40 * MINUTE_MS).tolist() == [
        [5 * MINUTE_MS, 30 * MINUTE_MS],
        [30 * MINUTE_MS, 40 * MINUTE_MS],
    ]
    assert exposure.coverage(broken, 0, 40 * MINUTE_MS) == pytest.approx(5 / 40)


def test_a_value_between_distant_samples_is_unknown() -> None:
    """Inside a gap and beyond the ends there is no value; on a sample there is."""
    broken = samples([0, 5, 30], [1.0, 2.0, 3.0])
    asked = np.array([-1, 0, 2.5, 5, 6, 30, 31]) * MINUTE_MS
    found = exposure.value_at(broken, asked.astype(np.int64))
    np.testing.assert_array_equal(found, [np.nan, 1.0, 1.5, 2.0, np.nan, 3.0, np.nan])


def test_the_mean_weighs_by_time() -> None:
    """Irregular samples weigh by the time between them, not by their number."""
    assert exposure.mean(samples([0, 1, 10], [0.0, 0.0, 10.0])) == pytest.approx(4.5)


@pytest.mark.parametrize(
    ("minutes", "values", "said"),
    [
        ([0, 0], [1.0, 2.0], "strictly increase"),
        ([1, 0], [1.0, 2.0], "strictly increase"),
        ([0, 1], [1.0, float("nan")], "not finite"),
        ([0, 1], [1.0, float("inf")], "not finite"),
        ([0], [1.0, 2.0], "give one time a value"),
    ],
)
def test_bad_samples_are_refused(minutes: list[float], values: list[float], said: str) -> None:
    """Unsorted times, values that are no numbers, and unequal columns are errors."""
    with pytest.raises(OutOfRangeError, match=said):
        samples(minutes, values)


def test_a_period_that_does_not_last_is_refused() -> None:
    """Neither a gap of no length nor a period turned round is taken."""
    with pytest.raises(OutOfRangeError, match="ends before"):
        exposure.clip(RAMP, 10, 5)
    with pytest.raises(OutOfRangeError, match="over zero"):
        exposure.coverage(RAMP, 5, 5)
    with pytest.raises(OutOfRangeError, match="over zero"):
        samples([0], [1.0], gap_min=0.0)


STEPS = st.lists(
    st.tuples(st.integers(1, 900_000), st.integers(-40, 40).map(lambda n: n / 4)),
    min_size=0, max_size=40,
)  # fmt: skip


@given(STEPS, st.integers(-40, 40).map(lambda n: n / 4), st.booleans())
def test_the_list_of_runs_adds_up_to_the_whole(
    steps: list[tuple[int, float]], limit: float, limit_is_out: bool
) -> None:
    """Runs sum to the time and the area outside; above, below and inside to the known."""
    at_ms = np.cumsum([step for step, _ in steps], dtype=np.int64)
    line = exposure.Samples(at_ms, np.array([value for _, value in steps]), 600.0)
    for side in Side:
        runs = exposure.excursions(line, side, limit, limit_is_out=limit_is_out)
        outside_s = exposure.time_outside_s(line, side, limit, limit_is_out=limit_is_out)
        assert runs.duration_s.sum() == pytest.approx(outside_s, abs=1e-6)
        assert runs.degree_hours.sum() == pytest.approx(
            exposure.degree_hours(line, side, limit), abs=1e-9
        )
    band = exposure.band_exposure(line, limit, limit + 3.0)
    assert band.inside_s + band.below_s + band.above_s == pytest.approx(band.known_s, abs=1e-6)


@given(STEPS, st.integers(-40, 40).map(lambda n: n / 4))
def test_runs_agree_with_a_plain_walk(steps: list[tuple[int, float]], limit: float) -> None:
    """Each run's ends and peak are those a walk over the samples finds."""
    at_ms = np.cumsum([step for step, _ in steps], dtype=np.int64)
    line = exposure.Samples(at_ms, np.array([value for _, value in steps]), 600.0)
    walked: list[list[float]] = []
    for k, value in enumerate(line.value):
        if value < limit:
            continue
        linked = k > 0 and line.value[k - 1] >= limit and at_ms[k] - at_ms[k - 1] <= 600_000
        if not linked:
            walked.append([])
        walked[-1].append(float(value))
    runs = exposure.excursions(line, Side.HIGH, limit)
    assert [run.peak for run in runs] == [max(values) for values in walked]
