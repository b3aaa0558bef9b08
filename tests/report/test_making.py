"""Reports from real files: the promised shape, verdicts that differ, and bad input."""

import json
from typing import Any

import numpy as np
import pytest

from monitor.batches.rules import move
from monitor.errors import UnknownNameError
from monitor.farm import find_place
from monitor.languages import in_language
from monitor.model import Alarm, AlarmKey, AlarmKind, AlarmState, Decision, Flag, Priority
from monitor.report.asking import Asked
from monitor.report.listing import report_json
from monitor.report.making import THINNED, Report, make_report
from monitor.report.sheet import COLUMNS, report_rows
from monitor.report.telling import say_report
from tests.report.conftest import Season
from tests.report.made import (
    AIR,
    DAMP,
    DAY_MS,
    HOUR_MS,
    NOW_MS,
    UNITS,
    Made,
    by,
    days_ago,
    f,
    steady,
)


def shape(report: Report) -> dict[str, Any]:
    """Return a report's JSON after a trip through text: plain, finite, no NaN."""
    told: dict[str, Any] = json.loads(json.dumps(report_json(report), allow_nan=False))
    return told


def reported(made: Made, number: int, asked: Asked | None = None) -> dict[str, Any]:
    """Return one batch's report as JSON."""
    with made.sources() as sources:
        return shape(make_report(sources, number, asked))


def test_a_report_has_the_promised_shape(season: Season) -> None:
    """Stays; per stage coverage, in-band share and times out; the verdict with its reasons."""
    told = reported(season.made, season.rooted)
    assert [(stay["place"], stay["stage"]) for stay in told["stays"]] == [
        ("sprouting-room", "pre_sprout")
    ]
    stage = told["stages"][0]
    assert stage["coverage"] == pytest.approx(1.0)
    drift = stage["excursions"][0]
    assert {"from", "to", "quantity", "side", "limit", "peak", "degree_hours"} <= set(drift)
    # three hours at 54 °F, four degrees over: 12 °F h are 6.7 K h
    assert drift["degree_hours"] == pytest.approx(12 / 1.8, rel=0.03)
    assert stage["in_band_share"] == pytest.approx(1 - 3 / (11 * 24), abs=0.001)
    assert told["verdict"]["answer"] in ("ready", "wait", "look_closely")
    assert all(reason["text"] for reason in told["verdict"]["reasons"])


def test_verdicts_differ_for_stated_reasons(season: Season) -> None:
    """Rooted is ready, under cover where frost comes; young waits; the dark one says why."""
    cold = Asked(low_c=f(27), cover="heavy")
    rooted = reported(season.made, season.rooted, cold)["verdict"]
    assert (rooted["answer"], rooted["condition"]) == ("ready", "under cover")
    young = reported(season.made, season.young)["verdict"]
    assert young["answer"] == "wait"
    assert "No roots measured" in young["reasons"][0]["text"]
    bare = reported(season.made, season.rooted, Asked(low_c=f(20), cover="none"))["verdict"]
    assert bare["answer"] == "wait"
    assert "cover it, or plant after the cold" in bare["text"]


def test_earlier_batches_teach_the_forecast(season: Season) -> None:
    """The forecast of a young batch rests on the two before it that were measured."""
    told = reported(season.made, season.young)["readiness"]
    assert told["learned_from"] == 2
    assert told["ready"]["early"] < told["ready"]["middle"] < told["ready"]["late"]


def test_stems_know_their_hour_in_the_field(season: Season) -> None:
    """Between cutting and the cooler the air of the tunnel counts."""
    told = reported(season.made, season.stems, Asked(for_ms=NOW_MS + DAY_MS))
    kinds = {reason["kind"]: reason for reason in told["verdict"]["reasons"]}
    assert kinds["field"]["figures"]["field_s"] == pytest.approx(0.06 * 86_400, rel=1e-3)
    assert kinds["field"]["figures"]["peak_c"] is not None
    assert told["verdict"]["promise"]["good"] == "yes"


def test_two_sensors_in_the_cooler_are_combined_and_their_distance_told(season: Season) -> None:
    """38 and 38.9 °F lie half a kelvin apart; the history says by which rule it combines."""
    told = reported(season.made, season.stems)
    apart = told["stages"][0]["quantities"]["temperature"]["disagreement"]
    assert apart["mean"] == pytest.approx(0.5, abs=0.02)
    assert told["sensors_combined_by"] == "mean of the sensors known at each moment"


def test_who_recorded_what_and_where_limits_come_from_are_told(season: Season) -> None:
    """Entries carry their writer, limits their grade and source, sensors where they hang."""
    told = reported(season.made, season.rooted)
    assert {entry["by"] for entry in told["entries"]} == {"Wren"}
    assert told["limits"][0]["ideal"]["grade"] == "CP"
    assert told["sensors"][0]["id"] == "sprouting-shelf"
    assert "no life-safety" in told["cautions"]


def test_thinned_readings_are_noted_in_the_readers_language(made: Made) -> None:
    """A batch that began before what was thinned says so, in Spanish too."""
    number = made.corms(40)
    made.ledger.put(THINNED, [{"until_ms": days_ago(30)}])
    with made.sources() as sources:
        note = make_report(sources, number).notes[0]
    assert "are thinned" in note
    assert "están reducidas" in in_language(note, "es")


def test_a_place_without_a_reading_is_said_in_a_sentence(season: Season) -> None:
    """A stay whose sensor was never heard has no figure, and a note in plain words."""
    told = reported(season.made, season.dark)
    stage = told["stages"][0]
    assert (stage["coverage"], stage["in_band_share"], stage["excursions"]) == (0.0, None, [])
    assert stage["unmeasured"] == ["dry-store"]
    assert any("The air of Dry store" in note for note in told["notes"])


def test_a_batch_that_is_not_there_is_named(season: Season) -> None:
    """A number nobody has is refused with the open ones."""
    with (
        season.made.sources() as sources,
        pytest.raises(UnknownNameError, match="no batch 99: open"),
    ):
        make_report(sources, 99)


def test_recalibration_recomputes_the_history(made: Made) -> None:
    """A sensor found 2 °F too low moves the whole past by as much."""
    made.record("sprouting-shelf", AIR, days_ago(2), NOW_MS, lambda day: np.full(len(day), f(49)))
    batch = made.corms(1)
    before = reported(made, batch)["stages"][0]
    text = (made.folder / "farm.toml").read_text()
    spec = '[[sensor.channel]]\nquantity = "temperature"\npath = "air.temperature"\nunit = "C"\n'
    assert spec in text
    fixed = '[[sensor.channel.calibration]]\nsince = 2026-01-01\noffset = "2 F"\n'
    (made.folder / "farm.toml").write_text(text.replace(spec, f"{spec}{fixed}"))
    made.reload()
    after = reported(made, batch)["stages"][0]
    mean = "quantities", "temperature", "mean"
    moved = after[mean[0]][mean[1]][mean[2]] - before[mean[0]][mean[1]][mean[2]]
    assert moved == pytest.approx(2 / 1.8)
    assert (before["in_band_share"], after["in_band_share"]) == (1.0, 0.0)


def test_late_readings_recompute_the_history(made: Made) -> None:
    """What comes in later fills the gap: nothing is remembered."""
    batch = made.corms(2)
    made.record("sprouting-shelf", AIR, days_ago(2), days_ago(1), steady(f(47.5)))
    assert reported(made, batch)["stages"][0]["coverage"] == pytest.approx(0.5, abs=0.01)
    made.record("sprouting-shelf", AIR, days_ago(1), NOW_MS, steady(f(47.5)))
    assert reported(made, batch)["stages"][0]["coverage"] == pytest.approx(1.0, abs=0.01)


def test_each_time_is_judged_by_the_limits_in_force_then(made: Made) -> None:
    """A band widened yesterday leaves the day before out of it, and yesterday in."""
    made.record("sprouting-shelf", AIR, days_ago(2), NOW_MS, lambda day: np.full(len(day), f(52)))
    batch = made.corms(2)
    made.ledger.accept_configuration(made.farm.texts, made.farm.digest, days_ago(9), "Wren")
    crops = (made.folder / "crops.toml").read_text()
    old = 'ideal = { low = "45 F", high = "50 F", grade = "CP", source = "common practice; '
    assert old in crops
    new = old.replace('"50 F"', '"55 F"')
    (made.folder / "crops.toml").write_text(crops.replace(old, new))
    made.reload()
    made.ledger.accept_configuration(made.farm.texts, made.farm.digest, days_ago(1), "Wren")
    told = reported(made, batch)
    assert told["stages"][0]["in_band_share"] == pytest.approx(0.5, abs=0.01)
    assert [each["ideal"]["high"] for each in told["limits"]] == [f(50), f(55)]
    assert not any("limits are today's" in note for note in told["notes"])


def test_a_sensor_that_hung_elsewhere_then_counts_where_it_hung(made: Made) -> None:
    """A sensor moved to another place yesterday tells of the old place before that."""
    made.record("sprouting-shelf", AIR, days_ago(2), NOW_MS, steady(f(47.5)))
    batch = made.corms(2)
    made.ledger.accept_configuration(made.farm.texts, made.farm.digest, days_ago(9), "Wren")
    text = (made.folder / "farm.toml").read_text()
    old = 'place = "sprouting-room"\ntopic = "farm/sprouting/shelf"'
    assert old in text
    (made.folder / "farm.toml").write_text(
        text.replace(old, old.replace("sprouting-room", "dry-store"))
    )
    made.reload()
    made.ledger.accept_configuration(made.farm.texts, made.farm.digest, days_ago(1), "Wren")
    told = reported(made, batch)
    assert told["stages"][0]["coverage"] == pytest.approx(0.5, abs=0.01)


def test_alarms_of_its_places_while_it_was_there_are_told(made: Made) -> None:
    """An alarm of the room during the stay is told; one long before it is not."""
    batch = made.corms(2)
    for began, ended in ((days_ago(1), days_ago(0.9)), (days_ago(9), days_ago(8))):
        made.ledger.transact(
            AlarmKey(AlarmKind.TOO_WARM, "sprouting-room"),
            lambda _, began=began, ended=ended: Decision(  # type: ignore[misc]
                Alarm(
                    id=0, key=AlarmKey(AlarmKind.TOO_WARM, "sprouting-room"),
                    priority=Priority.HIGH, state=AlarmState.NORMAL, place="sprouting-room",
                    sensor=None, quantity=AIR, batches=(), began_ms=began, raised_ms=began,
                    returned_ms=ended, acknowledged_ms=None, acknowledged_by=None, value=19.0,
                    limit=18.3, peak=20.0, title="Sprouting room is warming", text="",
                ),
                (), (),
            ),
            NOW_MS,
        )  # fmt: skip
    assert [each["title"] for each in reported(made, batch)["alarms"]] == [
        "Sprouting room is warming"
    ]


def empty(made: Made) -> None:
    """Record nothing at all."""


def one_reading(made: Made) -> None:
    """Record one reading of the air."""
    made.record("sprouting-shelf", AIR, days_ago(1), days_ago(1), steady(8.0))


def all_refused(made: Made) -> None:
    """Record readings that no one may judge by."""
    made.record("sprouting-shelf", AIR, days_ago(2), NOW_MS, steady(8.0), flags=Flag.SUSPECT)


def only_humidity(made: Made) -> None:
    """Record humidity alone."""
    made.record("sprouting-shelf", DAMP, days_ago(2), NOW_MS, steady(88.0))


def impossible(made: Made) -> None:
    """Record a sensor that tells what no instrument can."""
    made.record("sprouting-shelf", AIR, days_ago(2), NOW_MS, steady(850.0))


@pytest.mark.parametrize("input_", [empty, one_reading, all_refused, only_humidity, impossible])
def test_bad_input_gives_a_sentence_and_no_false_figure(
    made: Made, input_: Any  # noqa: ANN401 - one of the recorders above
) -> None:  # fmt: skip
    """No history worth the name: no exception, no figure of the air, a clear note."""
    input_(made)
    batch = made.corms(2)
    told = reported(made, batch)
    air = told["stages"][0]["quantities"]["temperature"]
    assert air["mean"] is None
    assert air["known_s"] == 0
    assert told["readiness"] is None
    assert told["verdict"]["answer"] in ("wait", "look_closely")
    with made.sources() as sources:
        report = make_report(sources, batch)
        assert say_report(report)
        assert all(len(row) == len(COLUMNS) for row in report_rows(report))


def test_a_year_of_gaps_is_told_as_such(made: Made) -> None:
    """An hour known of every day for a year: coverage 4 %, and nothing forecast from it."""
    for day in range(1, 365, 8):
        start = days_ago(day)
        made.record("sprouting-shelf", AIR, start, start + HOUR_MS, steady(8.0))
    told = reported(made, made.corms(365))
    assert told["stages"][0]["coverage"] == pytest.approx(46 / 24 / 365, rel=0.05)
    assert told["readiness"] is None
    assert "unknown" in told["verdict"]["text"]


def test_a_batch_moved_back_in_time_keeps_one_line_of_stays(made: Made) -> None:
    """A move recorded late, before another one, is stitched in by its time, and noted."""
    made.record("sprouting-shelf", AIR, days_ago(9), NOW_MS, steady(f(47.5)))
    batch = made.corms(8, stage="dry_store", place="dry-store")
    made.plant(batch, 1)
    made.write(move(batch, by(6), place="sprouting-room", stage="pre_sprout", units=UNITS))
    told = reported(made, batch)
    assert [stay["stage"] for stay in told["stays"]] == ["dry_store", "pre_sprout", "just_planted"]
    assert [stage["coverage"] for stage in told["stages"]] == pytest.approx([0, 1, 0], abs=0.01)
    assert any("recorded more than a day after" in note for note in told["notes"])


def test_a_batch_that_began_this_moment_has_no_history(made: Made) -> None:
    """Nothing lived through yet: a sentence, no stage, no exception."""
    told = reported(made, made.corms(0))
    assert told["stages"] == []
    assert "has only just begun" in told["notes"][0]


def test_an_ended_batch_is_reported_up_to_its_end(made: Made) -> None:
    """What happened after a batch ended is not part of its history."""
    made.record("sprouting-shelf", AIR, days_ago(9), NOW_MS, steady(f(47.5)))
    batch = made.corms(8)
    made.end(batch, 3)
    told = reported(made, batch)
    assert told["stages"][0]["length_s"] == pytest.approx(5 * 86_400)
    assert told["verdict"]["answer"] == "wait"


def test_stems_carried_to_a_warmer_place_are_told_to_sweat(season: Season) -> None:
    """Asked about the tunnel the verdict reckons with its dew point, or stays silent."""
    place = find_place(season.made.farm, "Tunnel 2")
    told = reported(season.made, season.stems, Asked(to=place))["verdict"]
    assert all(reason["kind"] != "sweating" for reason in told["reasons"])  # 40 °F there at 10:00


def test_wet_hours_are_told_of_tunnels_and_not_of_coolers(made: Made) -> None:
    """Eight humid hours in a tunnel are wet by the named surrogate; a cooler's mean nothing."""
    damp = steady(75.0, (0.0, 8.0, 95.0))
    made.record("tunnel-2-air", DAMP, days_ago(2), NOW_MS, damp)
    made.record("cooler-door-side", DAMP, days_ago(2), NOW_MS, steady(95.0))
    growing, stems = made.corms(3), made.stems(2)
    made.plant(growing, 2, "bloom")
    with made.sources() as sources:
        report = make_report(sources, growing)
        assert "Wet 8 of 48 h known (air at 90 % or more)" in "\n".join(say_report(report))
    wet = reported(made, growing)["stages"][1]["wetness"]
    assert wet["wet_h"] == pytest.approx(8.0, abs=0.05)
    assert wet["known_h"] == pytest.approx(48.0)
    assert reported(made, stems)["stages"][0]["wetness"] is None
