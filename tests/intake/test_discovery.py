"""Topics that no sensor claims."""

import pytest

from monitor.intake import Guess, Unclaimed, guesses_in, words
from monitor.intake.discovery import guess
from monitor.model import Quantity
from tests.intake.made import NOW_MS, message


def test_a_topic_is_remembered_with_its_count_and_newest_sample() -> None:
    """First and last time, the count, and at most 200 bytes of the newest message."""
    heard = Unclaimed()
    heard.hear(message("4.1", NOW_MS))
    heard.hear(message("x" * 5000, NOW_MS + 1000))
    (topic,) = heard
    assert (topic.first_ms, topic.last_ms, topic.count) == (NOW_MS, NOW_MS + 1000, 2)
    assert len(topic.sample) == 200


def test_the_memory_is_bounded() -> None:
    """Of too many topics the one heard longest ago gives way."""
    heard = Unclaimed(most=3)
    for name in ("a", "b", "a", "c", "d"):
        heard.hear(message("1", topic=name))
    assert [topic.topic for topic in heard] == ["a", "c", "d"]


@pytest.mark.parametrize(
    ("topic", "payload", "expected"),
    [
        ("x/temperature", "4.1", [Guess(None, Quantity.TEMPERATURE, "C")]),
        ("x/temp", "39 F", [Guess(None, Quantity.TEMPERATURE, "F")]),
        ("x/humidity", "80", [Guess(None, Quantity.HUMIDITY, "%")]),
        (
            "x",
            '{"air": {"temperature": 4.1, "humidity": 80}, "battery": 97}',
            [
                Guess("air.temperature", Quantity.TEMPERATURE, "C"),
                Guess("air.humidity", Quantity.HUMIDITY, "%"),
                Guess("battery", Quantity.BATTERY, "%"),
            ],
        ),
        ("x/temp", "52.4", [Guess(None, Quantity.TEMPERATURE, "F")]),
        ("x/temp", "33.4", [Guess(None, Quantity.TEMPERATURE, "")]),
        ("x/temp", "28.5", [Guess(None, Quantity.TEMPERATURE, "")]),
        ("x", '{"temp": "41.2 C"}', [Guess("temp", Quantity.TEMPERATURE, "C")]),
        ("x", '{"door": "open"}', [Guess("door", Quantity.DOOR, "")]),
        (
            "x",
            '[{"bn": "d1:", "n": "air", "u": "Cel", "v": 4.2}, {"n": "rh", "u": "%RH", "v": 80}]',
            [Guess("air", Quantity.TEMPERATURE, "C"), Guess("rh", Quantity.HUMIDITY, "%")],
        ),
        (
            "x",
            '[{"n": "soil", "u": "Cel", "v": 4}]',
            [Guess("soil", Quantity.SOIL_TEMPERATURE, "C")],
        ),
        ("x", '[{"n": "light", "u": "lx", "v": 4}]', []),
        ("x", '[{"n": "temp", "v": 51}]', [Guess("temp", Quantity.TEMPERATURE, "F")]),
        ("x", '[{"v": 41}]', []),
        ("x", "", []),
        ("x/label", "hello", []),
        ("x/temp", "[" * 1000, []),
    ],
)
def test_a_guess_names_path_quantity_and_unit(
    topic: str, payload: str, expected: list[Guess]
) -> None:
    """Keys and topic names suggest what a message carries; a label names its unit.

    Without a label a temperature over 45 is °F, under 20 °C, between them not told; units of
    SenML are those of RFC 8428, section 12.1.
    """
    assert list(guess(topic, payload.encode())) == expected
    assert list(guesses_in(words(expected))) == expected


def test_words_that_are_no_guess_are_left_out() -> None:
    """What an older program wrote, or nobody, is no guess."""
    assert guesses_in("") == ()
    assert guesses_in("t: warmth C; h: humidity %") == (Guess("h", Quantity.HUMIDITY, "%"),)
