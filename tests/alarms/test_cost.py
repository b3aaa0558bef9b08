"""How a cooler's return tells what it cost: words by the design note, figures worked by hand."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from monitor.alarms import costed, costs, say, say_reckoned, wording
from monitor.alarms.cost import say_loss
from monitor.model import AlarmKey, AlarmKind, Edge, Quantity, Transition
from monitor.science.series import Samples
from tests.alarms.test_machine import RAISE, RETURN
from tests.watch.made import HOUR_MS, MINUTE_MS, START_MS, batch, cooler, farm

STEMS = batch(14, "cut_stems", "cooler", START_MS - 90 * HOUR_MS)
FARM = farm([cooler(lag_s=3600.0)])
WORDS = wording(FARM, [STEMS])
BACK = replace(RETURN, batches=(14,), began_ms=START_MS, at_ms=START_MS + 5 * HOUR_MS)


def _air(value_c: float, rest_c: float = 2.5) -> Samples:
    """Return air at rest, and so warm from the spell's start to its end."""
    at_ms = np.arange(START_MS - 9 * HOUR_MS, START_MS + 5 * HOUR_MS + 1, MINUTE_MS)
    return Samples(at_ms, np.where(at_ms > START_MS, value_c, rest_c), 180.0)


def _told(transition: Transition, air: Samples) -> str:
    return say(costed(transition, WORDS, air), WORDS, START_MS + 6 * HOUR_MS).text


def test_a_return_says_how_warm_the_flowers_were_and_what_it_cost() -> None:
    """Air 7.5 K warmer than they are kept, for 5 h, with a lag of 1 h, at Q10 3.

    r = 3^0.75 = 2.2795, b = ln r = 0.82396. Warming: r[5 + sum of (-b)^n (1 - e^-5n)/(n n!)]
    - 5 = 4.846 h; cooling: sum of ((1 - e^-5) b)^n/(n n!) = 1.022 h; about 6 hours. Flowers
    reach 2.5 + 7.5(1 - e^-5) = 9.95 °C = 49.9 °F.
    """
    text = _told(BACK, _air(10.0))
    assert (
        "air highest 46.6 °F, flowers at most 49.9 °F: about 6 hours of cooler time lost." in text
    )


def test_a_short_warmth_is_negligible() -> None:
    """0.5 K for 5 h at Q10 3 costs 5(3^0.05 - 1) = 0.28 h: under an hour."""
    assert "at most 37.4 °F: a negligible loss of cooler time." in _told(BACK, _air(3.0))


def test_cold_costs_no_cooler_time() -> None:
    """A return from cold says the coldest the flowers were, and to look them over."""
    cold = replace(BACK, key=AlarmKey(AlarmKind.TOO_COLD, "cooler"), peak=-4.0)
    text = _told(cold, _air(-2.0))
    assert "air lowest 24.8 °F, flowers down to 28.5 °F. Look the stems over" in text
    assert "lost" not in text


@pytest.mark.parametrize(
    ("hours", "said"),
    [
        (0.99, "a negligible loss of cooler time"),
        (1.0, "about 1 hour of cooler time lost"),
        (5.2, "about 5 hours of cooler time lost"),
        (23.4, "about 23 hours of cooler time lost"),
        (23.6, "about a day of cooler time lost"),
        (29.0, "about a day of cooler time lost"),
        (35.0, "about 1.5 days of cooler time lost"),
        (60.0, "about 2.5 days of cooler time lost"),
    ],
)
def test_the_loss_is_said_in_words(hours: float, said: str) -> None:
    """Under an hour is negligible; then hours; from a day on, days to the half."""
    cost = {"extra_s": hours * 3600, "known_s": 9e4, "unknown_s": 0.0, "outside_s": 0.0}
    assert say_loss(cost) == said


def test_what_is_not_known_is_said() -> None:
    """A gap is told with its length; where more is unknown than known, no figure is."""
    air = _air(10.0)
    gap = (air.at_ms > START_MS + HOUR_MS) & (air.at_ms < START_MS + HOUR_MS + 40 * MINUTE_MS)
    text = _told(BACK, Samples(air.at_ms[~gap], air.value[~gap], 180.0))
    assert text.endswith("For 40 min of that nothing is known, and not counted.")
    gap = (air.at_ms > START_MS + HOUR_MS) & (air.at_ms < START_MS + 4 * HOUR_MS)
    text = _told(BACK, Samples(air.at_ms[~gap], air.value[~gap], 180.0))
    assert "too little of it is known to tell the loss of cooler time" in text
    assert "lost" not in text


def test_air_beyond_the_published_rates_is_at_least() -> None:
    """Where part of a spell has no published rate, the figure is a least one."""
    cost = {"extra_s": 18_000.0, "known_s": 9e4, "unknown_s": 0.0, "outside_s": 600.0}
    assert say_loss(cost) == "at least about 5 hours of cooler time lost"
    assert say_loss(cost | {"extra_s": 60.0}).endswith("as far as it can be reckoned")


def test_flowers_as_warm_as_the_air_are_not_told_twice() -> None:
    """Where nothing lags behind the air, its own highest says all."""
    words = wording(farm([cooler(lag_s=0.0)]), [STEMS])
    text = say(costed(BACK, words, _air(10.0)), words, START_MS).text
    assert "air highest 46.6 °F: about " in text
    assert "flowers" not in text


@pytest.mark.parametrize(
    ("other", "there"),
    [
        ({"place": "room"}, [STEMS]),
        ({"quantity": Quantity.HUMIDITY, "key": AlarmKey(AlarmKind.TOO_DRY, "cooler")}, [STEMS]),
        ({"batches": ()}, [STEMS]),
        ({}, [batch(14, "pre_sprout", "cooler", unit="corms")]),
        ({}, [batch(14, "cut_stems", "cooler", crop="not in the files")]),
        ({"edge": Edge.RAISE}, [STEMS]),
        ({"facts": {"gone": True}}, [STEMS]),
    ],
)
def test_nothing_is_invented_elsewhere(other: dict[str, Any], there: list[Any]) -> None:
    """No cost for another place or quantity, without stems, or for what did not return."""
    words, transition = wording(FARM, there), replace(BACK, **other)
    assert costs(transition, words) is None
    assert costed(transition, words, _air(10.0)) == transition


def test_the_dearest_of_several_batches_is_told() -> None:
    """Of stems there all along and stems that came an hour before the end, the first counts."""
    late = batch(15, "cut_stems", "cooler", START_MS + 4 * HOUR_MS)
    words = wording(FARM, [late, STEMS])
    both = costed(replace(BACK, batches=(14, 15)), words, _air(10.0))
    assert both.facts["cost"] == costed(BACK, WORDS, _air(10.0)).facts["cost"]


def test_the_reckoning_names_its_sources() -> None:
    """The alarm's page says by whose rates, at what temperature, and that they are borrowed."""
    said = say_reckoned(costed(BACK, WORDS, _air(10.0)).facts, WORDS)
    for part in ("Q10 3 up to 50.0 °F", "borrowed from other flowers", "Handbook 66", "36.5 °F"):
        assert part in said
    assert say_reckoned(RAISE.facts, WORDS) == ""
