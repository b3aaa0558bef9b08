"""Root readiness: the prior as stated, ranges that narrow, and ranges that hold."""

from collections.abc import Sequence

import numpy as np
import pytest

from monitor.batches.book import Observation, Roots
from monitor.batches.readiness import Forecast, forecast, looks, sightings
from monitor.batches.rooting import Sighting, believe
from monitor.batches.thermal_clock import Part, ThermalClock, thermal_clock
from monitor.farm import RootRule
from monitor.science.series import Samples
from monitor.science.thermal_time import from_readings

DAY_MS = 86_400_000
HOUR_MS = 3_600_000
RULE = RootRule()


def air(days: float, warmth_c: float = 8.6, gap_h: float = 2.0, since_d: float = 0.0) -> Samples:
    """Return hourly readings of a steady room."""
    at_ms = np.arange(round(since_d * 24), round((since_d + days) * 24) + 1) * HOUR_MS
    return Samples(at_ms.astype(np.int64), np.full(len(at_ms), warmth_c), gap_h * 3600)


def clock(days: float, warmth_c: float = 8.6) -> ThermalClock:
    """Return the clock of a steady room, all hours known."""
    found = thermal_clock([Part(0, round(days * DAY_MS), air(days, warmth_c))], RULE.base_c)
    assert found is not None
    return found


def counted(rooted: int, of: int) -> Roots:
    """Return a sample judged by the farm's own length."""
    return Roots((), rooted, of, rooted / of, None)


def seen(day: float, *, all_fine: bool = False, roots: Roots | None = None) -> Observation:
    """Return one look at batch 1."""
    return Observation(
        entry=1, batch=1, at_ms=round(day * DAY_MS), by="Wren", roots=roots, mould=None,
        softness=None, moisture=None, culls=None, all_fine=all_fine, note=None, count=None,
        rough=False, held_for=None, held=None,
    )  # fmt: skip


def days(told: Forecast) -> tuple[float, float, float]:
    """Return the day of readiness as early, middle, late since the stage began."""
    early, middle, late = told.ready
    return early / DAY_MS, middle / DAY_MS, late / DAY_MS


def test_a_first_batch_is_ready_in_one_to_two_weeks() -> None:
    """Without samples or earlier batches the range is common practice's: days 7 to 14."""
    early, middle, late = days(forecast(clock(1.0), [], [], RULE))
    assert early == pytest.approx(7.0, abs=0.5)
    assert middle == pytest.approx(9.9, abs=0.3)
    assert late == pytest.approx(14.0, abs=0.6)


def test_a_warmer_room_is_sooner_ready() -> None:
    """Thermal time rules: half as warm over the base again takes two thirds of the days."""
    cool = days(forecast(clock(2.0, 8.0), [], [], RULE))[1]
    warm = days(forecast(clock(2.0, 12.0), [], [], RULE))[1]
    assert warm / cool == pytest.approx(2 / 3, rel=0.01)


def test_the_range_narrows_with_samples_and_with_earlier_batches() -> None:
    """Each sample, and each batch that went before, makes the range shorter."""
    room = clock(9.0)
    samples = [Sighting(8.6 * 7, counted(3, 25)), Sighting(8.6 * 9, counted(14, 25))]
    past = [[Sighting(8.6 * 8, counted(10, 25)), Sighting(8.6 * 10, counted(22, 25))]] * 3

    def width(own: Sequence[Sighting], earlier: Sequence[Sequence[Sighting]]) -> float:
        early, _, late = days(forecast(room, own, earlier, RULE))
        return late - early

    assert width([], past) < 0.8 * width([], [])
    assert width(samples[:1], []) < 0.6 * width([], [])
    assert width(samples, []) < width(samples[:1], [])
    assert width(samples, past) < width(samples, [])


def test_lengths_tell_what_the_share_tells_and_the_growth_to_come() -> None:
    """Twenty-five lengths around half an inch: ready later than now, by the straight line."""
    lengths = tuple(np.linspace(8.0, 17.0, 25).tolist())
    told = forecast(clock(9.0), [Sighting(8.6 * 9, Roots(lengths, None, 25, None, None))], [], RULE)
    # the fifth corm from below, 9.8 mm, sets when four of five are there (the model's line)
    assert days(told)[1] == pytest.approx(9 / (0.5 + 0.5 * 9.8 / 25.4), abs=0.4)
    assert told.chance_ready < 0.05
    assert told.expected_share < 0.2


def test_roots_that_have_the_length_are_ready_now_and_too_long_later() -> None:
    """22 of 25 at the length on day ten: ready, most over an inch and a half to come."""
    told = forecast(clock(10.0), [Sighting(86.0, counted(22, 25))], [], RULE)
    assert told.chance_ready > 0.6
    assert told.too_long.middle_ms > told.ready.middle_ms
    assert told.too_long.middle_ms > 10 * DAY_MS
    assert told.chance_too_long < told.chance_ready
    assert told.samples == 1


def test_a_shorter_length_is_ready_sooner() -> None:
    """A farm that plants at a quarter of an inch plants sooner, by the straight line."""
    usual = days(forecast(clock(1.0), [], [], RULE))[1]
    short = days(forecast(clock(1.0), [], [], RootRule(length_mm=25.4 / 4)))[1]
    assert short / usual == pytest.approx(0.625, rel=0.02)


def test_a_slow_farm_is_learned() -> None:
    """After four batches that took 130 °C d the next is expected near there, not at 85."""
    slow = [[Sighting(120.0, counted(12, 25)), Sighting(135.0, counted(21, 25))]] * 4
    q, weight = believe([], slow, RULE).reached_cd(RULE.length_mm)
    assert float((q * weight).sum()) == pytest.approx(130.0, rel=0.07)


SIMULATED = 300


def simulated(dice: np.random.Generator) -> tuple[Forecast, float]:
    """Return one made-up batch's forecast and when 80 % of its corms really had an inch.

    A farm, its earlier batches, their corms, the room's warmth and the samples are all
    drawn from the stated model and prior; the forecast sees samples and readings only.
    """
    farm = np.log(8.6 * np.sqrt(7 * 14)) + 0.22 * dice.standard_normal()
    scatter = dice.choice([0.08, 0.12, 0.157, 0.2, 0.26], p=[0.15, 0.25, 0.3, 0.2, 0.1])
    batches = [drawn(dice, farm, scatter) for _ in range(dice.integers(1, 5))]
    *earlier, mine = batches
    past = [
        [sample(dice, *each, cd) for cd in dice.uniform(60, 120, dice.integers(1, 4))]
        for each in earlier
    ]
    day = float(dice.uniform(3, 12))
    warmth_c = float(dice.uniform(7.2, 10.0))
    own = [
        sample(dice, *mine, warmth_c * d) for d in np.arange(6.0, day, 3.0)[: dice.integers(0, 3)]
    ]
    told = forecast(clock(day, warmth_c), own, past, RULE)
    left_cd = np.exp(mine[0]) - warmth_c * day
    later_c = warmth_c * np.exp(0.1 * dice.standard_normal()) if left_cd > 0 else warmth_c
    return told, day + left_cd / later_c


def drawn(dice: np.random.Generator, farm: float, scatter: float) -> tuple[float, float]:
    """Return a batch's log thermal time for the share, and the scale of its corms."""
    scale = float(np.clip(np.exp(np.log(0.083) + 0.45 * dice.standard_normal()), 0.03, 0.25))
    return farm + scatter * float(dice.standard_normal()), scale


def sample(dice: np.random.Generator, q: float, scale: float, cd: float) -> Sighting:
    """Return 25 corms looked at: half the time counted, half the time measured."""
    own = np.exp(q - scale * np.log(4.0) + scale * dice.logistic(size=25))  # logit 0.8 = ln 4
    lengths = np.maximum(0.0, (cd / own - 0.5) / 0.5 * 25.4)
    if dice.random() < 0.5:
        return Sighting(cd, Roots(tuple(lengths.tolist()), None, 25, None, None))
    return Sighting(cd, counted(int((lengths >= 25.4).sum()), 25))


def test_the_range_holds_four_times_out_of_five() -> None:
    """Over 300 made-up batches the 80 % range holds the real day 80 ± 8 % of the time."""
    dice = np.random.default_rng(20261125)
    held = below = 0
    for _ in range(SIMULATED):
        told, truth_d = simulated(dice)
        early, _, late = days(told)
        held += early <= truth_d <= late
        below += truth_d < early
    assert 0.72 <= held / SIMULATED <= 0.88
    assert 0.04 <= below / SIMULATED <= 0.18  # neither end carries all of the misses


def test_the_clock_is_the_thermal_time_of_the_readings() -> None:
    """Where every hour is known the clock reads what the exact integral says."""
    at_ms = np.arange(0, 10 * 24 + 1, dtype=np.int64) * HOUR_MS
    room = Samples(at_ms, 8.0 + 2.0 * np.sin(at_ms / DAY_MS * 2 * np.pi), 7200.0)
    found = thermal_clock([Part(0, 10 * DAY_MS, room)], 0.0)
    assert found is not None
    assert found.now == pytest.approx(from_readings(room, 0.0).degree_days, rel=1e-9)
    assert found.coverage == pytest.approx(1.0)


def test_unknown_hours_count_like_the_known_ones_and_widen_the_range() -> None:
    """A day in four missing leaves the middle and lengthens the range."""
    whole = forecast(clock(8.0), [], [], RULE)
    parts = [Part(0, 6 * DAY_MS, air(6.0)), Part(6 * DAY_MS, 8 * DAY_MS, air(0.0, since_d=6.0))]
    holed = thermal_clock(parts, RULE.base_c)
    assert holed is not None
    assert holed.coverage == pytest.approx(0.75)
    assert holed.now == pytest.approx(8.6 * 8)
    less = forecast(holed, [], [], RULE)
    assert days(less)[1] == pytest.approx(days(whole)[1], rel=0.02)
    assert days(less)[2] - days(less)[0] > days(whole)[2] - days(whole)[0]


@pytest.mark.parametrize(
    "parts",
    [
        [],
        [Part(0, 0, air(0.0))],
        [Part(0, 4 * DAY_MS, air(1.0))],
        [Part(0, 4 * DAY_MS, Samples(np.empty(0, np.int64), np.empty(0), 60.0))],
        [Part(0, 4 * DAY_MS, air(4.0, -2.0))],
    ],
    ids=["nothing", "no time", "a quarter known", "no sample", "under the base"],
)
def test_too_little_known_gives_no_clock(parts: list[Part]) -> None:
    """No stage, no time, mostly unknown hours or a resting room: no figure is made up."""
    assert thermal_clock(parts, 0.0) is None


def test_samples_outside_the_stage_are_left_out() -> None:
    """A look before the stage, or after now, tells the clock nothing."""
    looked = [seen(day, roots=counted(5, 25)) for day in (-1.0, 3.0, 99.0)]
    assert [each.degree_days for each in sightings(looked, clock(4.0))] == [pytest.approx(25.8)]


def test_looks_are_due_from_day_six_every_three_days() -> None:
    """The first look is due on day six, the next three days after each look."""
    assert looks([], 0).due_ms == 6 * DAY_MS
    assert looks([seen(1, all_fine=True)], 0).due_ms == 6 * DAY_MS
    assert looks([seen(6.5, all_fine=True)], 0).due_ms == 9.5 * DAY_MS
    assert looks([seen(6, all_fine=True), seen(8)], 0) == (6 * DAY_MS, 9 * DAY_MS)
