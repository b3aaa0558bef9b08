"""Stems: cooler time, promises for a day, and sweating."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from monitor.batches.ageing import Spell, age
from monitor.batches.book import Hold, Observation
from monitor.batches.combining import SensorSeries
from monitor.batches.history import history
from monitor.batches.pieces import Version
from monitor.batches.stems import Carrying, Stems, stems_verdict
from monitor.batches.sweating import say_sweat, sweat
from monitor.batches.thermal_clock import Part
from monitor.batches.verdict import Answer, Good
from monitor.batches.voice import Voice
from monitor.model import Band, Batch, Grade, Harm, Quantity, Stay
from monitor.science.series import Samples
from monitor.science.storage_life import Limit, q10_of
from monitor.units import TemperatureUnit

HOUR_MS = 3_600_000
DAY_MS = 24 * HOUR_MS
NOW_MS = int(datetime(2026, 11, 24, 15, tzinfo=UTC).timestamp()) * 1000
FARM = Voice(TemperatureUnit.CELSIUS, ZoneInfo("America/New_York"), NOW_MS)
LIMIT = Limit(5.0, 3.0)
SNAPDRAGON = q10_of("snapdragon")


def air(since_h: float, until_h: float, value_c: float) -> Samples:
    """Return steady air from and to hours before now, a sample every ten minutes."""
    at_ms = np.arange(NOW_MS - since_h * HOUR_MS, NOW_MS - until_h * HOUR_MS + 1, HOUR_MS // 6)
    return Samples(at_ms.astype(np.int64), np.full(len(at_ms), value_c), 1200.0)


def spell(since_h: float, until_h: float, value_c: float | None, *, field: bool = False) -> Spell:
    """Return a spell in steady air, or in air that is not known."""
    samples = Samples(np.empty(0, np.int64), np.empty(0), 1200.0)
    if value_c is not None:
        samples = air(since_h, until_h, value_c)
    begin, end = NOW_MS - round(since_h * HOUR_MS), NOW_MS - round(until_h * HOUR_MS)
    return Spell("cooler", Part(begin, end, samples), 0.0, 5.6, field=field)


def case(*spells: Spell, for_d: float | None = None, stays_c: float = 3.0) -> Stems:
    """Return the question how snapdragon stems stand, or are good for days from now."""
    return Stems(
        stage="cut_stems", cut_ms=spells[0].part.since_ms, spells=spells, q10=SNAPDRAGON,
        limit=LIMIT, stays_at_c=stays_c, observations=(), stages=(), unknown=(),
        for_ms=None if for_d is None else NOW_MS + round(for_d * DAY_MS),
    )  # fmt: skip


def good(question: Stems) -> Good:
    """Return whether they are good for the day they are wanted."""
    told = stems_verdict(question, FARM)
    assert told.promise is not None
    return told.promise.good


def test_a_day_at_the_limits_own_temperature_is_a_day() -> None:
    """24 h at 3 °C use one of five days, whatever the Q10."""
    assert age([spell(24, 0, 3.0)], SNAPDRAGON, LIMIT).days == pytest.approx(1.0)


def test_a_hot_hour_in_the_field_counts() -> None:
    """An hour at 13 °C ages snapdragon 2.6 hours' worth at 3 °C (Q10 2.6, Çelikel 2010)."""
    used = age([spell(25, 24, 13.0, field=True), spell(24, 0, 3.0)], SNAPDRAGON, LIMIT)
    assert used.field_days * 24 == pytest.approx(2.6)
    assert used.days == pytest.approx(1.0 + 2.6 / 24)
    said = " ".join(each.text for each in stems_verdict(case(
        spell(25, 24, 13.0, field=True), spell(24, 0, 3.0)
    ), FARM).reasons)  # fmt: skip
    assert (
        "1 h between cutting and the cooler, in air of up to 13 °C: as much as 2 h 36 min" in said
    )


def test_stems_follow_the_air_by_their_lag() -> None:
    """Behind a lag of an hour an hour's warm spell ages less than bare air would."""
    warm = [spell(26, 25, 3.0), spell(25, 24, 13.0)]
    slow = [replace(each, lag_s=3600.0) for each in warm]
    assert age(slow, SNAPDRAGON, LIMIT).days < age(warm, SNAPDRAGON, LIMIT).days


def test_unknown_hours_count_like_the_rest_and_at_their_worst_beside_it() -> None:
    """Of two days, one not known: two days used, more at the harm limit's 5.6 °C."""
    used = age([spell(48, 24, 3.0), spell(24, 0, None)], SNAPDRAGON, LIMIT)
    assert used.days == pytest.approx(2.0)
    assert used.worst_days == pytest.approx(1.0 + 2.6**0.26)
    assert used.enough


@pytest.mark.parametrize(
    ("for_d", "expected"), [(3.9, Good.YES), (4.5, Good.DOUBTFUL), (6.0, Good.NO)]
)
def test_a_promise_holds_within_the_limit_and_is_doubtful_a_quarter_beyond(
    for_d: float, expected: Good
) -> None:
    """After one of five days: four more are good, up to 6.25 doubtful, past that not."""
    assert good(case(spell(24, 0, 3.0), for_d=for_d)) is expected


def test_a_promise_is_said_with_its_figures() -> None:
    """Asked and answered in one line, with the days used by then."""
    told = stems_verdict(case(spell(24, 0, 3.0), for_d=3.9), FARM)
    assert told.answer is Answer.READY
    assert told.promise is not None
    assert told.promise.why == (
        "Good for Saturday 07:36? Yes: 4.9 of 5 days of cooler time used by then."
    )


def test_what_is_not_known_is_a_doubt_only_where_it_could_change_the_answer() -> None:
    """The same unknown day leaves a promise for tomorrow, and undoes one for the last day."""
    holed = (spell(48, 24, 3.0), spell(24, 0, None))
    assert good(case(*holed, for_d=1.0)) is Good.YES
    tight = stems_verdict(case(*holed, for_d=2.9), FARM)
    assert tight.promise is not None
    assert tight.promise.good is Good.DOUBTFUL
    assert "if the unknown hours were at the harm limit" in tight.promise.why
    assert tight.answer is Answer.LOOK_CLOSELY


def test_a_borrowed_q10_is_a_doubt_where_its_range_could_change_the_answer() -> None:
    """By 3 they are good, by 4 of the same handbook not: doubtful, and it says why."""
    warm = [spell(32, 8, 10.0), spell(8, 0, 3.0)]  # 3^0.7 is 2.16 days, 4^0.7 is 2.64
    known = replace(case(*warm, for_d=2.3), q10=q10_of("rose"))
    borrowed = replace(case(*warm, for_d=2.3), q10=q10_of("ranunculus"))
    assert good(known) is Good.YES
    told = stems_verdict(borrowed, FARM)
    assert told.promise is not None
    assert told.promise.good is Good.DOUBTFUL
    assert "other flowers' Q10" in told.promise.why
    assert "borrowed from other flowers" in " ".join(each.text for each in told.reasons)


def test_without_readings_no_cooler_time_is_told() -> None:
    """Nothing or little known: a clear sentence and a doubtful promise, no figure."""
    told = stems_verdict(case(spell(24, 0, None), for_d=1.0), FARM)
    assert told.promise is not None
    assert told.promise.good is Good.DOUBTFUL
    assert "no cooler time can be told" in " ".join(each.text for each in told.reasons)
    assert "of 5 days" not in " ".join(each.text for each in told.reasons)


def test_without_a_limit_no_days_are_made_up() -> None:
    """A farm that set no longest time is told how to, and nothing is promised."""
    told = stems_verdict(replace(case(spell(24, 0, 3.0), for_d=1.0), limit=None), FARM)
    assert "set no longest time" in " ".join(each.text for each in told.reasons)
    assert told.promise is not None
    assert told.promise.good is Good.DOUBTFUL


def stages_of(frozen_c: float) -> Stems:
    """Return stems that stood an hour in so cold an air, 20 min tolerated under 0.6 °C."""
    harm = Harm(0.6, None, 1200.0, 1200.0, Grade.FARM, "made up")
    band = {"cut_stems": {Quantity.TEMPERATURE: Band(None, harm)}}
    batch = Batch(
        id=2, crop="snapdragon", cultivar="", supplier=None, lot=None, grade=None, count=None,
        rough=False, counted_at_ms=None, received=None, rotten=None, unit="stems",
        stays=(Stay("cooler", "cut_stems", NOW_MS - DAY_MS, None),), ended_ms=None, held_for=None,
        parents=(),
    )  # fmt: skip
    cold = air(24, 0, 3.0)
    value = np.where(np.abs(cold.at_ms - NOW_MS + 6 * HOUR_MS) <= HOUR_MS // 2, frozen_c, 3.0)
    series = SensorSeries("shelf", Quantity.TEMPERATURE, Samples(cold.at_ms, value, 1200.0))
    lived = history(batch, {"cooler": [series]}, [Version(0, band)], NOW_MS)
    return replace(case(spell(24, 0, 3.0), for_d=1.0), stages=lived.stages)


def test_frozen_stems_are_not_promised() -> None:
    """An hour under the freezing limit, 20 min tolerated: no, whatever the days."""
    assert good(stages_of(-1.0)) is Good.NO
    assert good(stages_of(1.0)) is Good.YES


def test_mould_makes_any_promise_doubtful() -> None:
    """Mould that was seen comes before the count of days."""
    seen = Observation(
        entry=1, batch=2, at_ms=NOW_MS - HOUR_MS, by="Wren", roots=None, mould="grey spots",
        softness=None, moisture=None, culls=None, all_fine=False, note=None, count=None,
        rough=False, held_for=None, held=None,
    )  # fmt: skip
    assert good(replace(case(spell(24, 0, 3.0), for_d=1.0), observations=[seen])) is Good.DOUBTFUL


@pytest.mark.parametrize(
    ("stems_c", "air_c", "damp", "dew_c"),
    [(3.0, 20.0, 50.0, 9.273), (3.0, 25.0, 60.0, 16.702)],
)
def test_cold_stems_sweat_until_they_pass_the_dew_point(
    stems_c: float, air_c: float, damp: float, dew_c: float
) -> None:
    """Dew points by PsychroLib and CoolProp; the time by Newton's law: tau ln of the ratio."""
    found = sweat(stems_c, air_c, damp, 3600.0)
    assert found is not None
    assert found.dew_c == pytest.approx(dew_c, abs=0.01)
    assert found.lasts_s == pytest.approx(
        3600 * np.log((air_c - stems_c) / (air_c - dew_c)), rel=1e-3
    )
    assert "will sweat in Packing shed for about" in str(say_sweat(found, "Packing shed", FARM))


@pytest.mark.parametrize(
    ("stems_c", "air_c", "damp", "lag_s"),
    [(10.0, 20.0, 50.0, 3600.0), (3.0, 20.0, 30.0, 3600.0), (3.0, 20.0, 50.0, 600.0),
     (3.0, 20.0, 0.5, 3600.0), (8.6, 20.0, 50.0, 36_000.0)],
    ids=["warm enough", "dry air", "soon over", "very dry air", "within the sensor's error"],
)  # fmt: skip
def test_what_is_harmless_is_not_said(
    stems_c: float, air_c: float, damp: float, lag_s: float
) -> None:
    """Stems over the dew point, or under it for minutes, or by less than a kelvin: silence."""
    assert say_sweat(sweat(stems_c, air_c, damp, lag_s), "Packing shed", FARM) is None


def test_saturated_air_at_their_own_temperature_never_lets_them_dry() -> None:
    """Where the air is as wet as it can be stems sweat as long as they stay."""
    found = sweat(3.0, 20.0, 100.0, 3600.0)
    assert "as long as they stay" in str(say_sweat(found, "Packing shed", FARM))


def test_sweating_is_a_reason_of_the_verdict() -> None:
    """Stems asked to be carried into warm damp air are told of, and stay ready."""
    carried = replace(
        case(spell(24, 0, 3.0)), carrying=Carrying("Packing shed", sweat(3.0, 25.0, 60.0))
    )
    told = stems_verdict(carried, FARM)
    told = stems_verdict(replace(carried, holds=[Hold("Saturday wedding", 120)]), FARM)
    assert "120 held for Saturday wedding." in [each.text for each in told.reasons]
    kinds: Sequence[str] = [each.kind for each in told.reasons]
    assert "sweating" in kinds
    assert told.answer is Answer.READY
