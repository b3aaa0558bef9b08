"""The page: complete in itself, well formed, with bands drawn and everything told."""

import re
from html.parser import HTMLParser
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from monitor.batches.combining import SensorSeries, combine
from monitor.batches.pieces import Piece
from monitor.batches.voice import Voice
from monitor.model import Band, Grade, Harm, Ideal, Quantity
from monitor.report import chart
from monitor.report.asking import Asked
from monitor.report.making import make_report
from monitor.report.page import report_html
from monitor.science.series import Samples
from monitor.speaking import LANGUAGE
from monitor.units import TemperatureUnit
from tests.report.conftest import Season
from tests.report.made import Made, f
from tests.web.test_speaking import english_left

HOUR_MS = 3_600_000
AIR = Quantity.TEMPERATURE
VOID = {"meta", "link", "br", "rect", "line", "polyline", "img", "input"}


class Balance(HTMLParser):
    """Counts the elements and holds that each is closed in its turn."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.counts: dict[str, int] = {}
        self.faults: list[str] = []
        self.feed(text)
        self.faults += self.open

    def handle_starttag(self, tag: str, attrs: object) -> None:
        """Note an opening."""
        del attrs
        self.counts[tag] = self.counts.get(tag, 0) + 1
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: object) -> None:
        """Note an element that closes itself."""
        del attrs
        self.counts[tag] = self.counts.get(tag, 0) + 1

    def handle_endtag(self, tag: str) -> None:
        """Note a closing."""
        if tag in VOID:
            return
        if not self.open or self.open.pop() != tag:
            self.faults.append(tag)


def page(made: Made, number: int, asked: Asked | None = None) -> str:
    """Return one batch's page."""
    with made.sources() as sources:
        return report_html(make_report(sources, number, asked))


def test_the_page_tells_everything_it_should(season: Season) -> None:
    """Verdict, advice, charts with bands, stages, record, alarms, sensors, limits, cautions."""
    text = page(season.made, season.rooted, Asked(low_c=f(27), cover="heavy"))
    for said in (
        "Verdict: ready, under cover", "22 of 25 corms rooted to your length (yesterday).",
        "Advice from the records", "What it lived through", "What was recorded, and by whom",
        "Wren", "Alarms during its stays", "Sensors", "no calibration recorded",
        "Limits and where they come from", "CP (common practice)", "no life-safety",
        "Most of the batch ready",
    ):  # fmt: skip
        assert said in text, said
    assert Balance(text).faults == []
    assert 'class="shelf"' in text
    assert 'class="edge"' in text


@pytest.mark.parametrize("which", ["earlier", "stems", "young", "dark"])
def test_every_page_is_well_formed(season: Season, which: str) -> None:
    """Growing, cut, young and unmeasured batches all give a page that closes what it opens."""
    text = page(season.made, getattr(season, which))
    assert Balance(text).faults == []
    assert "None" not in re.sub(r">None\.<", "", text)
    assert "nan" not in text.lower().replace("tenant", "")


def test_the_page_is_complete_in_itself(season: Season) -> None:
    """It opens from a mail or a stick: nothing is fetched from anywhere."""
    text = page(season.made, season.rooted)
    assert not re.findall(r"(?:src|href)=|url\(|@import|<script", text)


@pytest.mark.parametrize("which", ["earlier", "stems", "rooted", "young", "dark"])
def test_a_spanish_page_has_no_english_but_the_growers(season: Season, which: str) -> None:
    """Every sentence, table and drawing's title of it is Spanish; names and sources stay."""
    before = LANGUAGE.set("es")
    text = page(season.made, getattr(season, which), Asked(low_c=f(27), cover="heavy"))
    LANGUAGE.reset(before)
    assert '<html lang="es">' in text
    assert "Dictamen" in text
    assert english_left(text, season.made.farm) == []
    assert not re.search(r"Air,|>pre-sprout<|through the batch", text)


def test_what_people_wrote_cannot_break_the_page(made: Made) -> None:
    """A cultivar with markup in its name is shown as it was written."""
    batch = made.corms(1, cultivar='<script>alert("x")</script>')
    text = page(made, batch)
    assert "<script" not in text
    assert "&lt;script&gt;" in text


def test_a_batch_nothing_is_known_of_has_no_chart(season: Season) -> None:
    """Without one reading nothing is drawn, and the page says so."""
    text = page(season.made, season.dark)
    assert "<svg" not in text
    assert "No sensor told of the places it was in" in text


def drawn(hours: list[float], values: list[float]) -> chart.Chart:
    """Return the drawing of ten hours at 1 to 4 °C ideal, harm at 6 °C."""
    band = Band(
        Ideal(1.0, 4.0, Grade.FARM, "made up"),
        Harm(None, 6.0, 0.0, 1800.0, Grade.FARM, "made up"),
    )
    part = Piece("cooler", "cut_stems", 0, 10 * HOUR_MS, {AIR: band})
    at_ms = np.array([round(each * HOUR_MS) for each in hours], np.int64)
    course = combine(
        [SensorSeries("north", AIR, Samples(at_ms, np.array(values), 3600.0))], 0, 10 * HOUR_MS
    )
    voice = Voice(TemperatureUnit.CELSIUS, ZoneInfo("UTC"), 10 * HOUR_MS)
    found = chart.draw(AIR, [(part, {AIR: course})], {"cut_stems": "cut stems"}, voice)
    assert found is not None
    return found


def test_bands_and_readings_share_one_scale() -> None:
    """A reading on the band's edge is drawn on the shelf's edge, one at harm on its line."""
    found = drawn([0, 1, 2], [4.0, 1.0, 6.0])
    shelf = found.shelves[0]
    points = [tuple(map(float, each.split(","))) for each in found.traces[0].split()]
    assert points[0][1] == pytest.approx(shelf.y, abs=0.06)
    assert points[1][1] == pytest.approx(shelf.y + shelf.height, abs=0.06)
    assert points[2][1] == pytest.approx(found.edges[0].y, abs=0.06)
    assert points[0][0] == chart.LEFT


def test_what_is_not_known_is_grey_and_the_line_stops() -> None:
    """A gap parts the line in two and is a grey box from end to end."""
    found = drawn([0, 1, 2, 6, 7, 8, 9, 10], [3.0] * 8)
    assert len(found.traces) == 2
    box = found.unknown[0]
    width = chart.WIDTH - chart.LEFT - 4
    assert box.x == pytest.approx(chart.LEFT + 0.2 * width)
    assert box.width == pytest.approx(0.4 * width)


def test_a_long_line_keeps_its_peaks() -> None:
    """However many readings fall on one column, its least and greatest are drawn."""
    hours = np.linspace(0, 10, 20_001)
    values = np.full(20_001, 3.0)
    values[7777] = 9.0
    found = drawn(hours.tolist(), values.tolist())
    ys = [float(each.split(",")[1]) for each in found.traces[0].split()]
    assert len(ys) < 1500
    assert min(ys) < found.edges[0].y - 10


def test_a_page_is_made_for_now(season: Season) -> None:
    """The page says as of when, in the farm's time."""
    assert "as of 2026-11-24 10:00" in page(season.made, season.rooted)
