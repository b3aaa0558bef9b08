"""A place judged for a crop: harmed here, lasts less long here, or nothing to say."""

from pathlib import Path

import pytest

from monitor.batches.placing import judge_placing, placing
from monitor.farm import Crop, Farm, Place, load
from monitor.model import Band, Grade, Harm, Ideal, PlaceKind, Quantity, Stage
from tests.cli.small_farm import small_farm

AIR = Quantity.TEMPERATURE


@pytest.fixture
def farm(tmp_path: Path) -> Farm:
    """Return a small farm that reads °F."""
    return load(small_farm(tmp_path))


def cooler(low_c: float | None, high_c: float | None) -> Place:
    """Return a cooler kept at a range. [°C]"""
    ideal = Ideal(low_c, high_c, Grade.FARM, "made up")
    return Place("cooler", "Cooler", PlaceKind.COOLER, {AIR: Band(ideal)})


def stems(ideal: Ideal | None = None, harm: Harm | None = None) -> tuple[Crop, Stage]:
    """Return a crop and its stage of cut stems with limits. [°C]"""
    stage = Stage("cut_stems", "Cut stems", (PlaceKind.COOLER,), {AIR: Band(ideal, harm)})
    return Crop("fen-lily", "Fen lily", {stage.id: stage}), stage


def harm(low_c: float | None, high_c: float | None) -> Harm:
    """Return harm limits. [°C]"""
    return Harm(low_c, high_c, 0.0, 0.0, Grade.MEMORY, "made up")


@pytest.mark.parametrize(
    ("low_c", "high_c", "limits", "said"),
    [
        (2.0, 4.0, harm(10.0, None), "harm at 50 °F and below"),
        (2.0, 4.0, harm(2.0, None), "harm at 35.6 °F and below"),
        (7.0, 25.0, harm(None, 20.0), "harm at 68 °F and above"),
    ],
)
def test_a_place_that_reaches_a_harm_limit_harms(
    farm: Farm, low_c: float, high_c: float, limits: Harm, said: str
) -> None:
    """Where the place's own range reaches a harm limit, the limit included, it is told."""
    found = judge_placing(farm, *stems(harm=limits), cooler(low_c, high_c))
    assert [each.harmful for each in found] == [True]
    assert "is harmed here" in found[0].text
    assert said in found[0].text


def test_a_place_warmer_than_best_shortens_the_life_of_stems(farm: Farm) -> None:
    """A flower best at 0 to 1 °C in a cooler of 2 to 4 °C lasts less long: no harm."""
    best = Ideal(0.0, 1.0, Grade.EXTENSION, "made up")
    found = judge_placing(farm, *stems(best, harm(-1.0, 20.0)), cooler(2.0, 4.0))
    assert [each.harmful for each in found] == [False]
    assert "lasts less long here (best at 32 to 33.8 °F)" in found[0].text


@pytest.mark.parametrize(
    "place",
    [cooler(2.0, 4.0), cooler(None, None), Place("bare", "Bare", PlaceKind.COOLER)],
)
def test_a_fitting_place_or_one_without_limits_is_silent(farm: Farm, place: Place) -> None:
    """Nothing is said where nothing is wrong, or nothing can be told."""
    best = Ideal(2.0, 4.0, Grade.FARM, "made up")
    assert placing(farm, *stems(best, harm(0.0, 8.0)), place) == []


def test_a_place_of_another_kind_is_questioned(farm: Farm) -> None:
    """A stage in a kind of place it is not kept in is a note."""
    tunnel = Place("tunnel", "Tunnel 2", PlaceKind.TUNNEL)
    found = judge_placing(farm, *stems(), tunnel)
    assert [each.harmful for each in found] == [False]
    assert "is kept in a cooler: is the stage right?" in found[0].text


def test_a_half_open_range_is_said_in_words(farm: Farm) -> None:
    """A place with one limit is said as or less, or more."""
    found = placing(farm, *stems(harm=harm(None, 4.0)), cooler(None, 5.0))
    assert "is kept at 41 °F or less" in found[0]
