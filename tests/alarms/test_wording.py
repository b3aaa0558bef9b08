"""What alarms say: the place first, the farm's units, complete in themselves."""

from dataclasses import replace

import pytest

from monitor.alarms import RATIONALES, first_look, own_transition, say, wording
from monitor.alarms.saying import say_day, say_span, say_time, say_trend, say_value
from monitor.batches.book import Hold
from monitor.model import AlarmKey, AlarmKind, Edge, PlaceKind, Priority, Quantity, Transition
from monitor.units import TemperatureUnit
from tests.alarms.test_machine import RAISE, RETURN
from tests.watch.made import HOUR_MS, MINUTE_MS, START_MS, batch, cooler, farm

FARM = farm()
STEMS = [
    batch(14, "cut_stems", "cooler", counted_at_ms=START_MS - 3 * 24 * HOUR_MS),
    batch(15, "cut_stems", "cooler", count=200, rough=False),
    batch(7, "soak", "bucket", unit="corms", count=120, rough=False),
]
WORDS = wording(FARM, STEMS, {14: (Hold("Saturday's wedding", 120),)})
FAHRENHEIT, CELSIUS = TemperatureUnit.FAHRENHEIT, TemperatureUnit.CELSIUS


def test_a_raised_alarm_is_complete_in_itself() -> None:
    """It names the place, the figure, the limit and since when, what is there, what to do."""
    facts = {"tolerated_s": 1800.0, "trend_per_h": 1.7, "owners": ["place"], "sample_ms": START_MS}
    title, text = say(replace(RAISE, value=6.55, facts=facts), WORDS, START_MS)
    assert title == "Walk-in cooler is too warm"
    assert text == (
        "Walk-in cooler is too warm. Air 43.8 °F and rising 3 °F an hour. "
        "It has been at or above 41.0 °F since 15:00, longer than the 30 min it may be. "
        "In there by your records: about 520 stems, 2 batches, last counted Thursday; "
        "120 held for Saturday's wedding. "
        "First look: door, breaker, ice on the coil. "
        "Reset a breaker once at most, never with wet hands."
    )


def test_a_cleared_alarm_says_for_how_long_and_how_far() -> None:
    """A clearing tells since when, how long it was out, and the most extreme value."""
    title, text = say(RETURN, WORDS, START_MS + HOUR_MS)
    assert title == "Walk-in cooler is back in band"
    assert text == (
        "Walk-in cooler is back in band since 16:58. Out for 1 h 58 min, air highest 46.6 °F."
    )
    key = AlarmKey(AlarmKind.TOO_COLD, "cooler")
    _, cold = say(replace(RETURN, key=key, peak=-4.0), WORDS, START_MS + HOUR_MS)
    assert cold.endswith("air lowest 24.8 °F.")


def test_a_cold_cooler_does_not_send_to_the_breaker() -> None:
    """What to do first fits what is wrong, not only the place."""
    key = AlarmKey(AlarmKind.TOO_COLD, "cooler")
    _, text = say(replace(RAISE, key=key, value=-1.0, limit=0.5), WORDS, START_MS)
    assert "breaker" not in text
    assert "at or below 32.9 °F" in text


def test_unknown_time_and_strange_units_are_said() -> None:
    """What makes a figure less than sure stands beside it."""
    facts = {"unknown_s": 1200.0, "unit_suspect": True}
    _, text = say(replace(RAISE, facts=facts), WORDS, START_MS)
    assert "For 20 min of that nothing is known." in text
    assert "looks like another unit" in text


def test_old_figures_are_in_the_past() -> None:
    """A figure that is no longer fresh is told with its time."""
    _, text = say(RAISE, WORDS, START_MS + HOUR_MS)
    assert "Air was 44.6 °F at 16:00." in text


def test_a_batch_whose_limit_it_is_stands_by_name() -> None:
    """A limit that a stage brought is told as its batch's."""
    facts = {"owners": ["batch:14", "batch:15"]}
    _, text = say(replace(RAISE, facts=facts), WORDS, START_MS)
    assert "(the limit of batch 14, Dawn Apricot and 1 more)" in text


def test_what_is_told_later_is_worded_for_when_it_is_told() -> None:
    """Written at three minutes of silence and read at twenty: the hours left are those then."""
    dark = {
        "place": "cooler", "sensors": ["north", "south"], "heard_ms": START_MS - 3 * MINUTE_MS,
        "last": {"temperature": 3.0}, "hold_s": [3600.0, 7200.0], "top_c": 5.0,
    }  # fmt: skip
    facts = {"gateway": "barn", "sensors": ["south", "north"], "dark": [dark]}
    told_ms = START_MS + 30 * MINUTE_MS
    waits = Transition(
        key=AlarmKey(AlarmKind.SENSORS_DARK, "barn"), edge=Edge.RAISE, at_ms=START_MS,
        began_ms=START_MS - 3 * MINUTE_MS, priority=Priority.HIGH, place="cooler",
        facts=facts | {"tell_ms": told_ms},
    )  # fmt: skip
    _, text = say(waits, WORDS, START_MS)
    assert say(replace(waits, facts=facts), WORDS, told_ms).text == text
    assert "Last heard at 15:57: North and South." in text
    assert "30 min to 1 h 30 min left" in text
    assert " ago" not in text


def test_silence_says_what_is_left_unknown() -> None:
    """A silent sensor is told with its place, its last figures and who else is heard."""
    alone = Transition(
        key=AlarmKey(AlarmKind.SENSOR_SILENT, "north"),
        edge=Edge.RAISE,
        at_ms=START_MS,
        began_ms=START_MS - 12 * MINUTE_MS,
        priority=Priority.MEDIUM,
        place="cooler",
        sensor="north",
        facts={"interval_s": 60.0, "last": {"temperature": 3.0, "humidity": 93.0}, "others": []},
    )
    title, text = say(alone, WORDS, START_MS)
    assert title == "Walk-in cooler: sensor North has gone silent"
    assert "Last heard at 15:48; it should report every 1 min." in text
    assert "It said 37.4 °F and 93 % then." in text
    assert "how Walk-in cooler stands is not known" in text
    _, other = say(replace(alone, facts={**alone.facts, "others": ["south"]}), WORDS, START_MS)
    assert "Still heard there: South." in other


def test_a_soak_says_when_it_ends() -> None:
    """A stage that ends is told with its batch, its count and its time."""
    ending = Transition(
        key=AlarmKey(AlarmKind.STAGE_ENDING, "batch:7"),
        edge=Edge.RAISE,
        at_ms=START_MS,
        began_ms=START_MS,
        priority=Priority.HIGH,
        place="bucket",
        batches=(7,),
        facts={
            "stage": "soak", "since_ms": START_MS - 3 * HOUR_MS, "ends_ms": START_MS + HOUR_MS,
        },
    )  # fmt: skip
    title, text = say(ending, WORDS, START_MS)
    assert title == "Soak bucket: soak of batch 7, Dawn Apricot ends soon"
    assert "There since 13:00; the longest it should be ends at 17:00, in 1 h." in text
    assert "120 corms" in text
    over, _ = say(replace(ending, edge=Edge.RETURN), WORDS, START_MS + HOUR_MS)
    assert over == "Batch 7, Dawn Apricot has moved on"
    late, _ = say(ending, WORDS, START_MS + 2 * HOUR_MS)
    assert late.endswith("is over its longest time")


def test_an_alarm_nothing_judges_any_more_gives_no_all_clear() -> None:
    """When a limit is taken away the text says so, and not that all is well."""
    gone = replace(RETURN, facts={"gone": True})
    _, text = say(gone, WORDS, START_MS)
    assert "back in band" not in text
    assert "no word on how it stands" in text


@pytest.mark.parametrize("kind", list(AlarmKind))
@pytest.mark.parametrize("edge", list(Edge))
def test_every_kind_has_words_without_jargon(kind: AlarmKind, edge: Edge) -> None:
    """Each kind speaks plain words both ways: no state of the standard, no name of a field."""
    facts = {
        "stage": "soak",
        "since_ms": START_MS,
        "ends_ms": START_MS,
        "detail": "The disk is full",
    }
    transition = replace(RAISE, key=AlarmKey(kind, "cooler"), edge=edge, batches=(7,), facts=facts)
    if kind is AlarmKind.STAGE_ENDING:
        transition = replace(transition, key=AlarmKey(kind, "batch:7"))
    title, text = say(transition, WORDS, START_MS)
    assert text.startswith(title.split(":")[0])
    assert text.endswith(".")
    for jargon in ("acknowledged", "_", "setpoint", "threshold", "deadband", "None"):
        assert jargon not in text


@pytest.mark.parametrize("kind", list(AlarmKind))
def test_every_kind_is_rationalised(kind: AlarmKind) -> None:
    """No alarm without cause, consequence, response and time: each kind has its record."""
    record = RATIONALES[kind]
    assert all(getattr(record, name) for name in record.__slots__)
    assert all(first_look(kind, place) for place in (None, *PlaceKind))


def test_the_monitor_speaks_of_itself() -> None:
    """What is wrong with the monitor comes with its detail and what to do."""
    broken = own_transition(AlarmKind.STORE_FAILED, Edge.RAISE, START_MS, detail="The disk is full")
    _, text = say(broken, WORDS, START_MS)
    assert text == (
        "The monitor cannot keep readings since 16:00. The disk is full. "
        "First look: free space on the monitor's disk."
    )


def test_the_farms_own_words_come_first() -> None:
    """What the farm wrote as a place's first look stands in its alarms."""
    place = cooler(first_look="ring the neighbour.")
    _, text = say(RAISE, wording(farm([place])), START_MS)
    assert text.endswith("Nothing is in there by your records. First look: ring the neighbour.")


@pytest.mark.parametrize(
    ("value", "quantity", "unit", "said"),
    [
        # exact definitions: 0 °C is 32 °F, 100 °C is 212 °F
        (0.0, Quantity.TEMPERATURE, FAHRENHEIT, "32.0 °F"),
        (100.0, Quantity.SOIL_TEMPERATURE, FAHRENHEIT, "212.0 °F"),
        (-17.7778, Quantity.TEMPERATURE, FAHRENHEIT, "0.0 °F"),
        (-0.01, Quantity.TEMPERATURE, CELSIUS, "0.0 °C"),
        (93.4, Quantity.HUMIDITY, FAHRENHEIT, "93 %"),
    ],
)
def test_values_in_the_farms_unit(
    value: float, quantity: Quantity, unit: TemperatureUnit, said: str
) -> None:
    """Temperatures have one decimal in the farm's unit; humidity is whole."""
    assert say_value(value, quantity, unit) == said


@pytest.mark.parametrize(
    ("per_h", "said"),
    [(None, ""), (0.1, ""), (5.0, " and rising 9 °F an hour"), (-5.0, " and falling 9 °F an hour")],
)
def test_trends_without_offset(per_h: float | None, said: str) -> None:
    """A slope is a difference: 5 K an hour is 9 °F an hour, and a level one is not told."""
    assert say_trend(per_h, Quantity.TEMPERATURE, FAHRENHEIT) == said


@pytest.mark.parametrize(
    ("seconds", "said"),
    [
        (45, "45 s"), (720, "12 min"), (3599, "1 h"), (5100, "1 h 25 min"), (7200, "2 h"),
        (47 * 3600, "47 h"), (76 * 3600, "3 d 4 h"), (72 * 3600, "3 d"),
    ],
)  # fmt: skip
def test_spans(seconds: float, said: str) -> None:
    """Spans are told in the two largest units that matter."""
    assert say_span(seconds) == said


def test_days() -> None:
    """Days near are named, days far are dated."""
    zone = FARM.zone
    days = [say_day(START_MS - n * 24 * HOUR_MS, zone, START_MS) for n in (-1, 0, 1, 3, 20, 400)]
    # START is Sunday, 8 March 2026, 16:00 in New York
    assert days == ["tomorrow", "today", "yesterday", "Thursday", "16 Feb", "1 Feb 2025"]
    assert say_time(START_MS - 24 * HOUR_MS, zone, START_MS) == "yesterday 15:00"
