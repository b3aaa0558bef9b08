"""What is said of a cooler that warms before its limits are passed."""

from dataclasses import replace

from monitor.alarms import say, wording
from tests.alarms.test_machine import RAISE
from tests.watch.made import HOUR_MS, MINUTE_MS, START_MS, farm


def test_a_warming_is_told_with_a_range_and_one_thing_to_do() -> None:
    """Air, when it passes the band as a range, since when it rises, and the first look."""
    facts = {
        "sample_ms": START_MS, "trend_per_h": 1.7, "warming": True,
        "past_from_ms": START_MS + 20 * MINUTE_MS, "past_until_ms": START_MS + HOUR_MS,
    }  # fmt: skip
    words = say(replace(RAISE, facts=facts, limit=4.0), wording(farm()), START_MS)
    assert words.title == "Walk-in cooler is warming"
    assert words.text.startswith("Walk-in cooler is warming. Air ")
    assert "Past 39.2 °F between " in words.text
    assert "First look: door, breaker, ice on the coil." in words.text


def test_a_warming_without_a_forecast_names_none() -> None:
    """Where no range can be told, no time is named."""
    words = say(replace(RAISE, facts={"warming": True}), wording(farm()), START_MS)
    assert "between" not in words.text
    assert "longer than this cooler's doors and defrosts take" in words.text


def test_flowers_are_told_apart_from_the_air_where_their_lag_is_known() -> None:
    """The flowers' own warmth and the times they pass the band, as a range; not the air's."""
    facts = {
        "sample_ms": START_MS, "trend_per_h": 1.7, "warming": True, "contents_c": 3.0,
        "past_from_ms": START_MS + MINUTE_MS, "past_until_ms": START_MS + 2 * MINUTE_MS,
        "contents_past_from_ms": START_MS + HOUR_MS,
        "contents_past_until_ms": START_MS + HOUR_MS + 20 * MINUTE_MS,
    }  # fmt: skip
    words = say(replace(RAISE, facts=facts, limit=4.0), wording(farm()), START_MS)
    assert "Flowers about 37.4 °F: past 39.2 °F between " in words.text
    assert words.text.count("past 39.2 °F") == 1
