"""What each page says, without a script."""

import html
import re
from dataclasses import replace

import pytest

from tests.web.desk import SmallDesk
from tests.web.visiting import Visitor

PAGES = ("/", "/places/walk-in-cooler", "/places/tunnel-2", "/places/dry-store", "/alarms/1",
         "/batches",
         "/batches/1", "/batches/2", "/alarms", "/sensors", "/tonight", "/help", "/help/sensors",
         "/api/")  # fmt: skip
# The glossary's technical words that have a plain one beside them, and their like.
TECHNICAL = ("excursion", "coverage", "suppressed", "shelved", "unacknowledged", "in_band",
             "channel", "quantity", "degree-hours", "payload", "null", "None", "NaN")  # fmt: skip


def words(page: str) -> str:
    """Return what a reader sees: the text of a page's body, without its code."""
    body = page.partition("<main")[2].partition("</main>")[0]
    body = re.sub(r"<(code|script|svg)[^>]*>.*?</\1>", " ", body, flags=re.DOTALL)
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", body)))


@pytest.mark.parametrize("path", PAGES)
def test_every_page_is_whole(visitor: Visitor, path: str) -> None:
    """Every page answers 200 with a title, one main heading and the caution at its foot."""
    answer = visitor.get(path)
    assert answer.status_code == 200
    assert answer.text.count("<h1") == 1
    assert "Brindlewick Flowers</title>" in answer.text
    assert "no life-safety, fire, gas or entrapment alarm" in answer.text


@pytest.mark.parametrize("path", [each for each in PAGES if each != "/api/"])
def test_no_page_speaks_the_programs_own_words(visitor: Visitor, path: str) -> None:
    """No word of the glossary's technical column stands where a farm helper reads."""
    told = words(visitor.get(path).text)
    assert [each for each in TECHNICAL if re.search(rf"\b{re.escape(each)}\b", told)] == []


def test_danger_stands_first(visitor: Visitor) -> None:
    """The alarm stands before every place, and the place in danger before the others."""
    told = visitor.get("/").text
    places = ("walk-in-cooler", "tunnel-2", "sprouting-room", "dry-store")
    order = ["is too warm", *(f'id="place-{each}"' for each in places)]
    found = [told.index(each) for each in order]
    assert found == sorted(found)


def test_an_alarm_says_what_to_do_first(visitor: Visitor) -> None:
    """The box names the place, the figure now, one thing to do first and who has seen it."""
    told = words(visitor.get("/").text)
    assert "Walk-in cooler is too warm" in told
    assert "First look: door, breaker, ice on the coil" in told
    assert "about 640 stems, 1 batch, last counted Sunday; 120 held for Saturday's wedding" in told
    assert "nobody has seen it yet" in told


def test_flowers_follow_the_air_behind(visitor: Visitor) -> None:
    """While the air of the cooler rises, its flowers are told as cooler than the air."""
    page = visitor.get("/").text
    cooler = page.partition('id="place-walk-in-cooler"')[2].partition("</article>")[0]
    air = re.search(r"<span class=\"value figure\">([\d.]+) °F", cooler)
    flowers = re.search(r"flowers about ([\d.]+) °F", cooler)
    assert air is not None
    assert flowers is not None
    assert 40 < float(flowers[1]) < float(air[1])
    assert 'class="contents"' in cooler


def test_what_is_due_stands_last(visitor: Visitor) -> None:
    """The soak that ends within the hour after next is due first, with the time left."""
    told = words(visitor.get("/").text)
    assert "3 Pale Harbor" in told.partition("Next")[2][:40]
    assert "Soak: move on by 13:24 at the latest, in 1 h 24 min" in told


def test_a_place_never_heard_is_not_called_good(visitor: Visitor) -> None:
    """A place whose sensor never spoke is not known, and says so."""
    told = words(visitor.get("/places/dry-store").text)
    assert "not known nothing heard yet" in told
    assert "in band" not in told


def test_a_place_shows_figures_and_limits_in_the_farms_unit(visitor: Visitor) -> None:
    """Lowest and highest of the day, the good range and harm with its time stand in a table."""
    told = words(visitor.get("/places/walk-in-cooler").text)
    assert "Lowest today Highest today" in told
    assert "36 to 40 °F" in told
    assert "33 °F for 20 min, or 42 °F for 45 min" in told
    assert "common practice" in told


def test_a_batch_tells_how_much_is_known(visitor: Visitor) -> None:
    """Of 74 hours in the cooler the 30 with readings are told as known, with the extremes."""
    told = words(visitor.get("/batches/2").text)
    assert "30 of 74 h" in told
    assert "Air above 42 °F" in told
    assert re.search(r"Walk-in cooler: highest 4\d\.\d °F", told)
    assert "and not over" in told
    assert "added to Walk-in cooler at cut stems" in told
    assert "Batch 2, Copper Veil, cut stems, day 4: look closely." in told


def test_the_board_follows_a_crops_life(visitor: Visitor) -> None:
    """Stages stand in the order of the crops file: soak, pre-sprout, bud, cut stems."""
    told = visitor.get("/batches").text
    found = [told.index(f">{each} <") for each in ("Soak", "Pre-sprout", "Bud", "Cut stems")]
    assert found == sorted(found)


@pytest.mark.parametrize("path", ["/nope", "/places/attic", "/batches/99", "/batches/x"])
def test_what_is_not_there_says_so_kindly(visitor: Visitor, path: str) -> None:
    """An address that leads nowhere answers 404 with a way back."""
    answer = visitor.get(path)
    assert answer.status_code == 404
    assert "Not here" in answer.text
    assert 'href="/"' in answer.text


def test_nothing_comes_from_elsewhere(visitor: Visitor) -> None:
    """No page names another host, and scripts and style are served by ourselves."""
    for path in PAGES:
        page = visitor.get(path).text
        assert re.findall(r"(?:src|href)=\"(?:https?:)?//", page) == []
    for path in ("/static/live.js", "/static/cormwatch.css", "/vendor/uplot/uPlot.iife.min.js"):
        assert visitor.get(path).status_code == 200


def test_the_plain_documentation_page_is_gone(visitor: Visitor) -> None:
    """The page that would load scripts from elsewhere does not exist; ours lists the routes."""
    assert visitor.get("/docs").status_code == 404
    assert "/api/series" in visitor.get("/api/").text


def test_troubles_of_the_monitor_stand_on_the_first_page(desk: SmallDesk, visitor: Visitor) -> None:
    """What is wrong with the monitor itself is told in its own words."""
    before = desk.state_of_health
    desk.state_of_health = replace(before, troubles=("No word from the broker.",))
    try:
        assert "No word from the broker." in visitor.get("/").text
    finally:
        desk.state_of_health = before


def test_the_foot_tells_the_date(visitor: Visitor) -> None:
    """A page left open or printed says of which day it is, in the farm's time."""
    # NOW is 17:00 UTC on 25 November 2026, a Wednesday; New York is five hours behind
    foot = visitor.get("/").text.partition("<footer")[2]
    assert "Wednesday 25 November 2026, 12:00" in foot


def test_a_young_cooler_says_that_it_is_still_learned(visitor: Visitor) -> None:
    """With less than six days of air a cooler says by how many it is known; a tunnel nothing."""
    assert (
        "Still learning how this cooler warms and cools"
        in visitor.get("/places/walk-in-cooler").text
    )
    assert "Still learning" not in visitor.get("/places/tunnel-1").text


def test_the_guide_to_sensors_names_its_sources_and_cautions(visitor: Visitor) -> None:
    """What each place asks for is told with whose figure it is, and with what to beware of."""
    told = words(visitor.get("/help/sensors").text)
    for figure, source in (
        ("±0.5 °C", "CDC"), ("each 30 minutes", "Storage and Handling Toolkit"),
        ("up to 25 °C", "WMO-No. 8"), ("half an hour a metre deep", "IEC 60529"),
        ("three to nine months", "HortResearch"), ("stayed true", "NIST"),
    ):  # fmt: skip
        assert source in told[told.index(figure) - 250 : told.index(figure) + 150], figure
    for caution in ("Never charge a lithium battery below freezing", "Do not drill a panel",
                    "that one is poison", "Nobody goes into a walk-in alone"):  # fmt: skip
        assert caution in told
    assert 'href="/help/sensors"' in visitor.get("/help").text
    assert 'href="/help/sensors"' in visitor.get("/sensors").text
