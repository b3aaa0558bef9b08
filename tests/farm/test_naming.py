"""People name things in their own spelling."""

import pytest

from monitor.errors import UnknownNameError
from monitor.farm import find_crop, find_person, find_place, find_sensor, find_stage, slug
from tests.farm.folders import Folder


@pytest.mark.parametrize(
    "text", ["walk-in-cooler", "Walk-in cooler", "WALK IN COOLER", "walk_in_cooler", "walkincooler"]
)
def test_a_place_is_found_by_id_or_name(folder: Folder, text: str) -> None:
    """Case, spaces, hyphens and underscores make no difference."""
    assert find_place(folder.load(), text).id == "walk-in-cooler"


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("cooler", "walk-in-cooler"),
        ("Walk-In", "walk-in-cooler"),
        ("sprouting", "sprouting-room"),
        ("bucket", "soak-bucket"),
        ("2", "tunnel-2"),
    ],
)
def test_a_place_is_found_by_a_word_that_fits_only_one(
    folder: Folder, text: str, expected: str
) -> None:
    """A whole word of the name is enough where it leaves no doubt."""
    assert find_place(folder.load(), text).id == expected


def test_a_place_is_found_by_its_kind(folder: Folder) -> None:
    """What is called otherwise is found as the only one of its kind."""
    folder.change("farm.toml", 'name = "Dry store"', 'name = "Loft"')
    folder.change("farm.toml", 'id = "dry-store"', 'id = "loft"')
    folder.change("farm.toml", 'place = "dry-store"', 'place = "loft"')
    assert find_place(folder.load(), "dry store").id == "loft"


def test_a_word_that_fits_several_places_names_them(folder: Folder) -> None:
    """Nothing is guessed where two places fit."""
    with pytest.raises(UnknownNameError, match="may be any of Tunnel 1, Tunnel 2: say which"):
        find_place(folder.load(), "tunnel")


@pytest.mark.parametrize("text", ["cool", "oak", "", "-", "??"])
def test_a_piece_of_a_word_is_no_name(folder: Folder, text: str) -> None:
    """Part of a word, or no word at all, finds nothing."""
    with pytest.raises(UnknownNameError, match="no place is called"):
        find_place(folder.load(), text)


def test_a_stage_is_found_in_either_spelling(folder: Folder) -> None:
    """A stage may be written pre-sprout, pre_sprout or Pre Sprout."""
    crop = find_crop(folder.load(), "Ranunculus")
    assert {find_stage(crop, text).id for text in ("pre-sprout", "pre_sprout", "Pre Sprout")} == {
        "pre_sprout"
    }


def test_an_unknown_name_lists_what_there_is_and_what_is_near(folder: Folder) -> None:
    """A misspelt name is answered with the near one and all known ones."""
    with pytest.raises(UnknownNameError) as caught:
        find_place(folder.load(), "tunel 1")
    assert "did you mean Tunnel 1?" in str(caught.value)
    assert "Soak bucket, Sprouting room" in str(caught.value)


def test_what_is_near_nothing_gets_no_guess(folder: Folder) -> None:
    """Where no name is near, none is guessed."""
    with pytest.raises(UnknownNameError) as caught:
        find_sensor(folder.load(), "zzz")
    assert "did you mean" not in str(caught.value)


def test_sensors_and_people_are_found_too(folder: Folder) -> None:
    """Sensors and people are found as places are."""
    farm = folder.load()
    assert find_sensor(farm, "cooler, back shelf").id == "cooler-back"
    assert find_person(farm, "ROBIN").id == "robin"


def test_a_crop_says_which_stages_it_has(folder: Folder) -> None:
    """Asked for a stage it does not have, a crop lists its stages."""
    crop = folder.load().crops["tulip"]
    with pytest.raises(UnknownNameError, match="cut_stems"):
        crop.unit("soak")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Walk-in Cooler", "walk-in-cooler"),
        ("  Tunnel #2 ", "tunnel-2"),
        ("Café Noir", "cafe-noir"),
    ],
)
def test_a_slug_is_small_letters_and_hyphens(text: str, expected: str) -> None:
    """A name becomes an id of small letters, figures and hyphens."""
    assert slug(text) == expected
