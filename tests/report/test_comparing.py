"""A batch beside earlier ones, the year sheet, and stems that are carried."""

import json

import numpy as np
import pytest

from monitor.batches import fold
from monitor.batches.book import Purpose
from monitor.batches.counts import Count
from monitor.batches.rules import Leaving, move, out, split
from monitor.model import LedgerEntry
from monitor.report.carrying import sweating_lines
from monitor.report.comparing import COMPARED, compare, comparison_json, say_comparison
from monitor.report.making import stores_of
from monitor.report.page import table_html
from monitor.report.subject import record_of
from monitor.report.year import YEARLY, say_year, year_json, year_rows, year_sheet
from tests.report.conftest import Season
from tests.report.made import AIR, DAMP, NOW_MS, UNITS, Course, Made, by, days_ago, f


def test_a_batch_stands_first_and_the_newest_earlier_one_next(season: Season) -> None:
    """The comparison goes back in time from the batch, by the stage it is at."""
    with season.made.sources() as sources:
        told = comparison_json(compare(sources, season.young))
    assert [each["batch"] for each in told["batches"]] == [
        season.young, season.rooted, season.earlier,
    ]  # fmt: skip
    assert {each["stage"] for each in told["batches"]} == {"pre_sprout"}
    rooted = told["batches"][1]
    assert rooted["days"] == 11
    assert rooted["mean_c"] == pytest.approx(f(47.5), abs=0.1)
    assert json.loads(json.dumps(told, allow_nan=False)) == told


def test_hourly_means_tell_what_the_readings_tell(season: Season) -> None:
    """In band and hours known from hourly means lie within a hundredth of the readings'."""
    with season.made.sources() as sources:
        coarse = compare(sources, season.rooted).batches[0].was
    assert coarse is not None
    assert coarse.in_band == pytest.approx(1 - 3 / (11 * 24), abs=0.01)
    assert coarse.coverage == pytest.approx(1.0, abs=0.01)


def test_without_earlier_batches_the_comparison_says_so(season: Season) -> None:
    """A first batch is compared with nothing, in a sentence."""
    with season.made.sources() as sources:
        found = compare(sources, season.dark)
    assert "There is no earlier batch of Ranunculus" in "\n".join(say_comparison(found))
    assert [len(row) for row in found.rows()] == [len(COMPARED)]


def test_the_year_sheet_counts_what_one_reorders_by(season: Season) -> None:
    """Received, rotten, planted, first cut, stems a corm and culls, by cultivar and supplier."""
    with season.made.sources() as sources:
        sheet = year_sheet(sources, 2026)
    told = {each["cultivar"]: each for each in year_json(sheet)["lots"]}
    apricot = told["Dawn Apricot"]
    assert apricot["batches"] == [season.earlier, season.rooted]
    assert (apricot["received"], apricot["rotten"]) == (300 + 12 + 300 + 5, 17)
    assert (apricot["planted"], apricot["stems"]) == (300, 220)
    assert apricot["stems_a_corm"] == pytest.approx(220 / 300, abs=0.01)
    assert apricot["culls"] == 12
    assert apricot["first_cut"].startswith("2026-11-22")
    assert told["Ember Red"]["supplier"] == "Hill Corms"
    assert told["Ember Red"]["stems"] is None
    assert told["Pale Wren"]["mean_c"] is None
    assert all(len(row) == len(YEARLY) for row in year_rows(sheet))


def test_splits_and_stems_count_with_the_batch_they_came_from(made: Made) -> None:
    """A batch split before planting plants both parts; one split after counts once."""
    batch = made.corms(30)
    part = made.write(split(batch, Count(100), by(25), units=UNITS))
    made.plant(batch, 20, "bloom")
    made.plant(part, 18, "bloom")
    made.write(split(batch, Count(50), by(10), units=UNITS))
    made.cut(batch, 5, 150)
    made.cut(part, 4, 50)
    with made.sources() as sources:
        lots = year_json(year_sheet(sources, 2026))["lots"]
    assert len(lots) == 1
    assert (lots[0]["planted"], lots[0]["stems"]) == (300, 200)
    assert lots[0]["batches"] == [batch]


def test_a_year_without_batches_is_an_empty_sheet(made: Made) -> None:
    """No batch began: a sentence, and a page that still prints."""
    with made.sources() as sources:
        sheet = year_sheet(sources, 1999)
        newest = year_sheet(sources)
    assert "No batch began in 1999." in say_year(sheet)
    assert newest.year == 2026
    assert "No batch began" in table_html(sheet.page())


def test_the_tables_print_what_people_wrote_safely(made: Made) -> None:
    """A supplier with markup in its name is shown as written."""
    made.corms(3, supplier="<b>Fen</b>")
    with made.sources() as sources:
        assert "&lt;b&gt;Fen" in table_html(year_sheet(sources).page())


def carried(made: Made, entries: list[LedgerEntry]) -> list[str]:
    """Return what is told of stems that entries just carried."""
    with made.sources() as sources:
        stores = stores_of(made.farm, record_of(made.ledger), sources.reader)
        book = fold(made.ledger.entries())
        return list(sweating_lines(stores, book, entries, sources.voice))


def level(value: float) -> Course:
    """Return a course that does not move."""
    return lambda day: np.full(len(day), value)


def cold_stems(made: Made, tunnel_c: float, damp: float) -> int:
    """Return stems in a cooler at 38 °F, beside a tunnel of so much air and humidity."""
    made.record("cooler-door-side", AIR, days_ago(0.2), NOW_MS, level(f(38)))
    made.record("tunnel-1-air", AIR, days_ago(0.2), NOW_MS, level(tunnel_c))
    made.record("tunnel-1-air", DAMP, days_ago(0.2), NOW_MS, level(damp))
    return made.stems(1)


def moved(made: Made, stems: int, days: float = 0.0) -> list[LedgerEntry]:
    """Move stems into tunnel 1."""
    return made.ledger.write_entries(move(stems, by(days), place="tunnel-1", units=UNITS), NOW_MS)


def test_stems_moved_into_warm_damp_air_are_said_to_sweat(made: Made) -> None:
    """38 °F into 77 °F and 60 %: under its dew point of 62 °F (16.7 °C by two libraries)."""
    stems = cold_stems(made, 25.0, 60.0)
    lines = carried(made, moved(made, stems))
    assert len(lines) == 1
    assert "Stems at 38 °F will sweat in Tunnel 1 for about" in lines[0]
    assert "dew point at 62 °F" in lines[0]


def test_a_harmless_move_or_one_of_long_ago_is_silent(made: Made) -> None:
    """Dry air makes nothing wet, and what is over needs no telling."""
    stems = cold_stems(made, 20.0, 25.0)
    assert carried(made, moved(made, stems)) == []


def test_a_move_recorded_late_is_silent(made: Made) -> None:
    """Stems that were carried half a day ago have dried since."""
    stems = cold_stems(made, 25.0, 60.0)
    assert carried(made, moved(made, stems, 0.5)) == []


def test_stems_that_leave_cold_are_told_above_what_humidity_they_sweat(made: Made) -> None:
    """Sold from 38 °F: the humidity of a room at 68 °F is told, and nothing for the culled."""
    stems = cold_stems(made, 20.0, 50.0)
    sold = made.ledger.write_entries(out(stems, [Leaving(Purpose.SOLD, Count(20))], by(0)), NOW_MS)
    line = carried(made, sold)[0]
    assert "Stems at 38 °F sweat in a room at 68 °F with over" in line
    # saturation at 3.3 + 1 °C against 20 °C: 830 of 2339 Pa (handbook's own table: 813 at 4)
    assert 34 <= int(line.split("over ")[1].split(" %")[0]) <= 37
    gone = made.ledger.write_entries(out(stems, [Leaving(Purpose.CULLED, Count(5))], by(0)), NOW_MS)
    assert carried(made, gone) == []
