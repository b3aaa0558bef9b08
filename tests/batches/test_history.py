"""What a batch has lived through. Expected figures are plane geometry on straight lines."""

import json
from collections.abc import Mapping, Sequence

import numpy as np
import pytest

from monitor.batches.combining import SensorSeries
from monitor.batches.history import History, history
from monitor.batches.history_listing import history_json
from monitor.batches.outside import Depth
from monitor.batches.pieces import Version, pieces
from monitor.errors import OutOfRangeError
from monitor.model import Band, Batch, Grade, Harm, Ideal, Quantity, Side, Stay
from monitor.science.series import Samples

HOUR_MS = 3_600_000
AIR = Quantity.TEMPERATURE


def band(low: float, high: float, harm_high: float, tolerated_s: float = 1800.0) -> Band:
    """Return a band with an ideal range and a harm limit above it."""
    return Band(
        Ideal(low, high, Grade.FARM, "made up"),
        Harm(None, harm_high, 0.0, tolerated_s, Grade.FARM, "made up", cumulative_s=5400.0),
    )


COOL = Version(0, {"cut_stems": {AIR: band(1.0, 4.0, 5.0)}})


def batch(*stays: Stay) -> Batch:
    """Return a batch of stems that was where the stays say."""
    return Batch(
        id=1, crop="ranunculus", cultivar="Dawn Apricot", supplier=None, lot=None, grade=None,
        count=100, rough=False, counted_at_ms=0, received=None, rotten=None, unit="stems",
        stays=stays, ended_ms=None, held_for=None, parents=(),
    )  # fmt: skip


def air(
    hours: Sequence[float], values: Sequence[float], sensor: str = "north", gap_h: float = 1.0
) -> SensorSeries:
    """Return a sensor's air temperatures at hours."""
    at_ms = np.array([round(each * HOUR_MS) for each in hours], np.int64)
    return SensorSeries(sensor, AIR, Samples(at_ms, np.array(values, float), gap_h * 3600))


def told(*sensors: SensorSeries, until_h: float, versions: Sequence[Version] = (COOL,)) -> History:
    """Return the history of a batch of stems in the cooler since 0 h."""
    lived = batch(Stay("cooler", "cut_stems", 0, None))
    return history(lived, {"cooler": sensors}, versions, round(until_h * HOUR_MS))


def test_a_warm_spell_is_told_as_drift_and_as_harm() -> None:
    """Up from 2 to 6 °C and back in two hours: out by the triangle's geometry."""
    stage = told(air([0, 1, 2], [2.0, 6.0, 2.0]), until_h=2).stages[0]
    drift, harm = stage.excursions
    assert (drift.depth, drift.side, drift.limit, drift.peak) == (Depth.DRIFT, Side.HIGH, 4.0, 6.0)
    assert (drift.from_ms, drift.until_ms) == (HOUR_MS // 2, 3 * HOUR_MS // 2)
    assert drift.degree_hours == pytest.approx(1.0)
    assert (harm.depth, harm.limit, harm.duration_s) == (Depth.HARM, 5.0, 1800.0)
    assert harm.degree_hours == pytest.approx(0.25)
    assert harm.too_long
    assert not drift.too_long
    assert stage.in_band_share == pytest.approx(0.5)
    assert stage.coverage == 1.0


def test_means_extremes_and_thermal_time_are_over_the_known_time() -> None:
    """A steady 3 °C day known for half of it: the mean is 3, the thermal time half a day's."""
    hours = [*range(13)]
    lived = batch(Stay("cooler", "cut_stems", 0, None))
    found = history(
        lived, {"cooler": [air(hours, [3.0] * 13)]}, [COOL], 24 * HOUR_MS, base_c=1.0
    ).stages[0]
    figures = found.quantities[AIR]
    assert (figures.mean, figures.low, figures.high) == (3.0, 3.0, 3.0)
    assert found.coverage == pytest.approx(0.5)
    assert found.thermal_time_cd == pytest.approx((3.0 - 1.0) * 0.5)


def test_stays_in_two_places_at_one_stage_are_one_stage() -> None:
    """The same stage in two coolers counts together, each with its own sensors."""
    lived = batch(
        Stay("cooler", "cut_stems", 0, 2 * HOUR_MS), Stay("van", "cut_stems", 2 * HOUR_MS, None)
    )
    series: Mapping[str, Sequence[SensorSeries]] = {
        "cooler": [air([0, 1, 2, 3], [3.0] * 4)],
        "van": [air([1, 2, 3, 4], [6.0] * 4, "van")],
    }
    stage = history(lived, series, [COOL], 4 * HOUR_MS).stages[0]
    assert stage.places == ("cooler", "van")
    assert stage.quantities[AIR].sensors == ("north", "van")
    assert stage.quantities[AIR].mean == pytest.approx(4.5)
    assert stage.in_band_share == pytest.approx(0.5)
    assert [(out.place, out.from_ms) for out in stage.excursions] == [
        ("van", 2 * HOUR_MS),
        ("van", 2 * HOUR_MS),
    ]


def test_a_run_through_a_move_is_one_time_out() -> None:
    """What goes on from one place into the next is told once, and a crossing unseen as such."""
    lived = batch(Stay("cooler", "cut_stems", 0, HOUR_MS), Stay("van", "cut_stems", HOUR_MS, None))
    series = {
        "cooler": [air([0, 1], [4.5, 4.5])],
        "van": [air([1, 2], [4.5, 4.6], "van")],
    }
    out = history(lived, series, [COOL], 2 * HOUR_MS).stages[0].excursions
    assert [(each.from_ms, each.until_ms, each.peak) for each in out] == [(0, 2 * HOUR_MS, 4.6)]
    assert (out[0].began, out[0].ended) == (False, False)
    assert out[0].degree_hours == pytest.approx(0.5 + 0.55)


def test_each_moment_is_judged_by_the_limits_in_force_then() -> None:
    """A limit raised after an hour leaves the first hour out of band and the second in."""
    wider = Version(HOUR_MS, {"cut_stems": {AIR: band(1.0, 6.0, 8.0)}})
    stage = told(air([0, 1, 2], [4.5] * 3), until_h=2, versions=[COOL, wider]).stages[0]
    assert [(out.from_ms, out.until_ms, out.limit) for out in stage.excursions] == [
        (0, HOUR_MS, 4.0)
    ]
    assert stage.in_band_share == pytest.approx(0.5)


def test_the_first_accepted_limits_hold_before_their_acceptance_too() -> None:
    """A batch recorded back in time is judged by the oldest limits known."""
    late = Version(5 * HOUR_MS, COOL.bands)
    found = pieces(batch(Stay("cooler", "cut_stems", 0, None)), [late], 2 * HOUR_MS)
    assert [(each.since_ms, each.until_ms) for each in found] == [(0, 2 * HOUR_MS)]
    assert AIR in found[0].bands


def test_a_gap_is_unknown_and_cuts_a_time_out() -> None:
    """What happened in a gap is neither in nor out, and the run says that it was cut."""
    stage = told(air([0, 1, 5, 6], [4.5, 4.5, 4.5, 3.5]), until_h=6).stages[0]
    assert stage.coverage == pytest.approx(2 / 6)
    assert [(out.from_ms, out.until_ms, out.ended) for out in stage.excursions] == [
        (0, HOUR_MS, False),
        (5 * HOUR_MS, 5.5 * HOUR_MS, True),
    ]


def test_the_whole_tolerated_time_may_be_used_up_in_several_spells() -> None:
    """Two spells of an hour at harm use up an hour and a half within the second."""
    hours = [0, 1, 1.001, 2, 2.001, 3]
    stage = told(air(hours, [6.0, 6.0, 3.0, 3.0, 6.0, 6.0]), until_h=3).stages[0]
    used_up_ms = stage.quantities[AIR].used_up_ms
    assert used_up_ms is not None
    assert used_up_ms == pytest.approx(2.5 * HOUR_MS, abs=5000)


def test_two_sensors_that_disagree_are_averaged_and_the_distance_told() -> None:
    """A mean of 3 and 5 °C is 4 °C, and the two kelvins between them are shown."""
    found = told(
        air([0, 1, 2], [3.0] * 3), air([0, 1, 2], [5.0] * 3, "south"), until_h=2
    ).stages[0].quantities[AIR]  # fmt: skip
    assert found.mean == pytest.approx(4.0)
    assert found.disagreement is not None
    assert found.disagreement.largest == pytest.approx(2.0)


@pytest.mark.parametrize("sensors", [(), (air([], []),), (air([1], [3.0]),)])
def test_a_stay_without_readings_is_told_as_unknown(sensors: tuple[SensorSeries, ...]) -> None:
    """No sensor, no sample or one sample: nothing is known, and no figure is made up."""
    stage = told(*sensors, until_h=2).stages[0]
    assert stage.coverage == 0.0
    assert stage.in_band_share is None
    assert stage.thermal_time_cd is None
    assert stage.quantities[AIR].mean is None
    assert stage.excursions == []
    assert stage.unmeasured == (() if sensors and sensors[0].samples.at_ms.size else ("cooler",))


def test_only_humidity_leaves_the_air_unknown() -> None:
    """Humidity alone is told, and the air's temperature is unmeasured."""
    damp = SensorSeries("damp", Quantity.HUMIDITY, air([0, 1, 2], [90.0] * 3).samples)
    stage = told(damp, until_h=2).stages[0]
    assert stage.quantities[Quantity.HUMIDITY].mean == pytest.approx(90.0)
    assert stage.quantities[Quantity.HUMIDITY].in_band_share is None
    assert (stage.coverage, stage.unmeasured) == (0.0, ("cooler",))


def test_a_batch_not_begun_by_then_has_no_history() -> None:
    """Before its first stay a batch has lived through nothing."""
    lived = batch(Stay("cooler", "cut_stems", 5 * HOUR_MS, None))
    assert history(lived, {}, [COOL], 2 * HOUR_MS).stages == ()


def test_limits_may_be_unknown() -> None:
    """Without limits the history still tells mean and coverage."""
    stage = told(air([0, 1, 2], [4.5] * 3), until_h=2, versions=[]).stages[0]
    assert stage.quantities[AIR].mean == pytest.approx(4.5)
    assert (stage.in_band_share, stage.excursions) == (None, [])


def test_a_base_of_thermal_time_is_a_figure() -> None:
    """A base that is no number is refused."""
    with pytest.raises(OutOfRangeError, match="base of thermal time"):
        history(batch(), {}, [], 0, base_c=float("nan"))


def test_the_json_has_the_promised_keys() -> None:
    """Stages carry coverage and in-band share, times out their promised keys, as plain JSON."""
    shape = history_json(told(air([0, 1, 2], [2.0, 6.0, 2.0]), until_h=2))
    assert json.loads(json.dumps(shape, allow_nan=False)) == shape
    stage = shape["stages"][0]
    assert {"stage", "coverage", "in_band_share", "excursions"} <= set(stage)
    promised = {"from", "to", "quantity", "side", "limit", "peak", "degree_hours"}
    assert promised <= set(stage["excursions"][0])
    assert stage["excursions"][0]["from"] == "1970-01-01T00:30:00Z"
