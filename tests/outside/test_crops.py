"""The shipped crops against what was published; each value with its citation."""

import json
import re
import tomllib
from typing import Any

import pytest

from monitor.farm import Farm, load
from monitor.model import Band, Grade, Ideal, Quantity, Stage
from monitor.resources import config_dir

pytestmark = pytest.mark.outside


@pytest.fixture(scope="module")
def farm() -> Farm:
    """Return the starter farm as shipped."""
    return load(config_dir(), {})


# Stems in store [°C], and the grade: extension and trade tables (E) and papers (P) as named.
STEMS: list[tuple[str, float | None, float | None, Grade]] = [
    ("anemone", 0, 1, Grade.EXTENSION),
    ("tulip", 0, 2, Grade.EXTENSION),  # storage table adapted from Wills et al. 1998
    ("narcissus", 0, 2, Grade.PUBLISHED),  # Reid, UC Davis
    ("freesia", 0, 4, Grade.EXTENSION),
    ("lily", 0, 5, Grade.EXTENSION),
    ("lisianthus", 0, 1, Grade.EXTENSION),
    ("snapdragon", 0, 5, Grade.EXTENSION),
    ("sweet-pea", 0, 1, Grade.EXTENSION),
    ("peony", -0.6, 0.7, Grade.PUBLISHED),  # Agronomy 2020, 10:1694
    ("gladiolus", 4, 6, Grade.EXTENSION),
    ("sunflower", 0, 1.5, Grade.PUBLISHED),  # Celikel & Reid 2002, HortScience 37(1):148
    ("chrysanthemum", 0, 8, Grade.EXTENSION),
]


def _band(stage: Stage, quantity: Quantity = Quantity.TEMPERATURE) -> Band:
    return stage.bands[quantity]


def _ideal(stage: Stage, quantity: Quantity = Quantity.TEMPERATURE) -> Ideal:
    ideal = _band(stage, quantity).ideal
    if ideal is None:
        raise LookupError(stage.id)
    return ideal


@pytest.mark.parametrize(("crop", "low_c", "high_c", "grade"), STEMS)
def test_stems_are_stored_as_published(
    farm: Farm, crop: str, low_c: float, high_c: float, grade: Grade
) -> None:
    """The store of cut stems is the published one, with its grade."""
    ideal = _ideal(farm.crops[crop].stages["cut_stems"])
    assert (ideal.low, ideal.high) == pytest.approx((low_c, high_c))
    assert ideal.grade is grade


# Published storage [d]: the shortest and longest of the same tables.
STORED_D = {
    "tulip": (3, 42), "narcissus": (7, 21), "freesia": (1, 14), "lily": (4, 28),
    "lisianthus": (7, 7), "snapdragon": (3, 28), "gladiolus": (5, 8), "chrysanthemum": (7, 42),
}  # fmt: skip


@pytest.mark.parametrize("crop", STORED_D)
def test_the_days_left_are_never_more_than_was_published(farm: Farm, crop: str) -> None:
    """The farm's limit of days stays inside the published storage and is called the farm's."""
    stage = farm.crops[crop].stages["cut_stems"]
    assert stage.longest_s is not None
    assert stage.longest_s / 86_400 <= STORED_D[crop][1]
    assert stage.time_grade is Grade.FARM
    longest = str(STORED_D[crop][1])
    assert any(re.search(rf"\b{longest}\b", note.text) for note in farm.crops[crop].notes)


# Below these it is harmed [°C]: freezing points and chilling, extension and trade.
HARM_BELOW = {
    "snapdragon": -0.9, "gladiolus": -0.3, "anthurium": 12, "bird-of-paradise": 7, "ginger": 7,
    "tropicals": 10,
}  # fmt: skip


@pytest.mark.parametrize("crop", HARM_BELOW)
def test_stems_are_harmed_below_the_published_limit(farm: Farm, crop: str) -> None:
    """Freezing points and chilling limits are those of the tables."""
    harm = _band(farm.crops[crop].stages["cut_stems"]).harm
    assert harm is not None
    assert harm.low == pytest.approx(HARM_BELOW[crop])
    assert harm.grade is Grade.EXTENSION


def test_no_flower_of_the_cold_table_is_harmed_in_a_cooler_at_36_to_40(farm: Farm) -> None:
    """A flower best at 0 to 1 °C lasts less long at 2 to 4 °C and is not harmed there."""
    for name, *_ in STEMS:
        harm = _band(farm.crops[name].stages["cut_stems"]).harm
        assert harm is not None
        assert harm.low is not None
        assert harm.low < 36 / 1.8 - 32 / 1.8
        assert harm.high is None


def test_the_soak_water_is_as_published(farm: Farm) -> None:
    """15 to 25 °C: Cerveny, Miller, Bjorkman & Mattson 2012, HortScience 47(2):212."""
    ideal = _ideal(farm.crops["ranunculus"].stages["soak"])
    assert (ideal.low, ideal.high) == pytest.approx((15, 25))
    assert ideal.grade is Grade.PUBLISHED
    assert "HortScience 47(2):212" in ideal.source


def test_ranunculus_is_kept_by_common_practice(farm: Farm) -> None:
    """Sprouting 45 to 50 °F one to two weeks, stems 36 to 40 °F up to five days (CP)."""
    stages = farm.crops["ranunculus"].stages
    sprout, stems = stages["pre_sprout"], stages["cut_stems"]
    assert (_ideal(sprout).low, _ideal(sprout).high) == pytest.approx((13 / 1.8, 10))
    assert (sprout.least_s, sprout.longest_s) == (7 * 86_400, 14 * 86_400)
    assert (_ideal(stems).low, _ideal(stems).high) == pytest.approx((4 / 1.8, 8 / 1.8))
    assert stems.longest_s == 5 * 86_400
    assert {_ideal(sprout).grade, _ideal(stems).grade} == {Grade.COMMON_PRACTICE}


def test_cooler_humidity_is_as_published(farm: Farm) -> None:
    """90 to 95 %: McDaniel, Virginia Tech; nobody is woken by it."""
    band = farm.places["walk-in-cooler"].bands[Quantity.HUMIDITY]
    assert band.ideal is not None
    assert (band.ideal.low, band.ideal.high) == (90, 95)
    assert band.ideal.grade is Grade.EXTENSION
    assert band.harm is None


def test_the_snapdragons_q10_is_as_published(farm: Farm) -> None:
    """2.6 over 0 to 20 °C: Celikel, Cevallos & Reid 2010, Scientia Horticulturae 125:429."""
    q10 = farm.crops["snapdragon"].q10
    assert q10 is not None
    assert q10.value == 2.6
    assert q10.grade is Grade.PUBLISHED
    assert [each.id for each in farm.crops.values() if each.q10] == ["snapdragon"]


def test_a_door_and_a_defrost_wake_nobody(farm: Farm) -> None:
    """A cooler's harm tolerates longer than a door (5-20 min) or a defrost (15-30 min)."""
    harm = farm.places["walk-in-cooler"].bands[Quantity.TEMPERATURE].harm
    assert harm is not None
    assert harm.tolerated_high_s > 30 * 60
    assert harm.grade is Grade.FARM


def _limits(table: Any) -> list[dict[str, Any]]:  # noqa: ANN401 - whatever the file holds
    if isinstance(table, list):
        return [found for each in table for found in _limits(each)]
    if not isinstance(table, dict):
        return []
    own = [table] if {"low", "high", "text"} & table.keys() else []
    return own + [found for each in table.values() for found in _limits(each)]


def test_every_limit_and_note_carries_grade_and_source() -> None:
    """Nothing is shipped without its grade of evidence and its source."""
    text = (config_dir() / "crops.toml").read_text(encoding="utf-8")
    limits = _limits(tomllib.loads(text))
    assert len(limits) > 60
    assert [json.dumps(each) for each in limits if not (each["grade"] and each["source"])] == []
