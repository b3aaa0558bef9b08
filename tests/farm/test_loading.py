"""A farm's folder becomes a farm, or every mistake is named at once."""

import hashlib
from dataclasses import FrozenInstanceError
from datetime import time

import pytest

from monitor.errors import FarmError
from monitor.farm import missing_places
from monitor.farm.starting import in_celsius
from monitor.model import Batch, Grade, PlaceKind, Priority, Quantity, Stay
from monitor.units import TemperatureUnit
from tests.farm.folders import Folder


def test_the_starter_farm_loads_as_written(folder: Folder) -> None:
    """The starter's places, sensors, units and times arrive as its files say."""
    farm = folder.load()
    assert farm.name == "Brindlewick Flowers"
    assert farm.zone.key == "America/New_York"
    assert farm.units is TemperatureUnit.FAHRENHEIT
    assert list(farm.places) == [
        "soak-bucket", "sprouting-room", "walk-in-cooler", "tunnel-1", "tunnel-2", "dry-store",
    ]  # fmt: skip
    assert farm.sensors["cooler-door-side"].topic == "farm/cooler/door-side"
    assert [each.path for each in farm.sensors["sprouting-shelf"].channels] == [
        "air.temperature", "air.humidity",
    ]  # fmt: skip
    assert farm.sensors["cooler-back"].channels[0].path is None
    assert farm.sensors["cooler-back"].channels[0].unit == "F"
    assert farm.notices.morning_at == time(7)
    assert farm.notices.quiet_from == time(21)
    assert farm.data_dir == folder.path / "data"


def test_limits_are_kept_in_celsius_with_grade_and_source(folder: Folder) -> None:
    """36 to 40 °F, harm at 33 and 42, is 2.22 to 4.44 °C, harm at 0.56 and 5.56 (exact)."""
    band = folder.load().places["walk-in-cooler"].bands[Quantity.TEMPERATURE]
    assert band.ideal is not None
    assert band.harm is not None
    assert (band.ideal.low, band.ideal.high) == pytest.approx((4 / 1.8, 8 / 1.8))
    assert (band.harm.low, band.harm.high) == pytest.approx((1 / 1.8, 10 / 1.8))
    assert (band.harm.tolerated_low_s, band.harm.tolerated_high_s) == (1200, 2700)
    assert band.ideal.grade is Grade.COMMON_PRACTICE
    assert "no published limit" in band.harm.source


def test_a_place_takes_what_it_does_not_say_from_its_kind(folder: Folder) -> None:
    """A place's own ideal limits leave the harm limits of its kind in force."""
    folder.change(
        "farm.toml", 'name = "Tunnel 1"\nkind = "tunnel"',
        'name = "Tunnel 1"\nkind = "tunnel"\nlag = "20 min"\n[place.bands.temperature]\n'
        'ideal = { low = "41 F", grade = "farm", source = "ours" }',
    )  # fmt: skip
    farm = folder.load()
    own, other = farm.places["tunnel-1"], farm.places["tunnel-2"]
    band = own.bands[Quantity.TEMPERATURE]
    assert band.ideal is not None
    assert band.ideal.low == pytest.approx(5.0)
    assert band.ideal.high is None
    assert band.harm == other.bands[Quantity.TEMPERATURE].harm
    assert own.bands[Quantity.HUMIDITY] == other.bands[Quantity.HUMIDITY]
    assert (own.lag_s, other.lag_s) == (1200, 600)
    assert own.first_look == other.first_look


def test_harm_limits_without_a_side_switch_those_of_the_kind_off(folder: Folder) -> None:
    """A place can do without the harm limits of its kind."""
    folder.change(
        "farm.toml", 'name = "Tunnel 1"\nkind = "tunnel"',
        'name = "Tunnel 1"\nkind = "tunnel"\n[place.bands.soil_temperature]\n'
        'harm = { grade = "farm", source = "empty in winter" }',
    )  # fmt: skip
    assert folder.load().places["tunnel-1"].bands[Quantity.SOIL_TEMPERATURE].harm is None


def test_silence_follows_from_the_interval(folder: Folder) -> None:
    """A sensor is silent after three intervals, and not before three minutes."""
    sensors = folder.load().sensors
    assert sensors["cooler-back"].silent_after_s == 180  # every minute
    assert sensors["tunnel-2-soil"].silent_after_s == 1800  # every ten minutes
    assert sensors["tunnel-2-soil"].allowed_gap_s == 1800


def test_the_soak_rings_at_three_hours(folder: Folder) -> None:
    """A soak lasts three to four hours, lateness harms, and it is told at three."""
    soak = folder.load().crops["ranunculus"].stages["soak"]
    assert (soak.least_s, soak.longest_s) == (3 * 3600, 4 * 3600)
    assert soak.longest_s is not None
    assert soak.longest_s - soak.tell_before_s == 3 * 3600
    assert soak.late_harms
    assert soak.place_kinds == (PlaceKind.SOAK_BUCKET,)


def test_stages_say_what_they_are_counted_in(folder: Folder) -> None:
    """Ranunculus is counted in corms, then plants, then stems, by stage."""
    crop = folder.load().crops["ranunculus"]
    assert [crop.unit(each) for each in ("pre_sprout", "bloom", "cut_stems")] == [
        "corms", "plants", "stems",
    ]  # fmt: skip


def test_the_farm_cannot_be_changed(folder: Folder) -> None:
    """What was loaded is frozen."""
    with pytest.raises(FrozenInstanceError):
        folder.load().name = "another"  # type: ignore[misc]


def test_the_digest_is_of_the_texts(folder: Folder) -> None:
    """The digest is the SHA-256 of each file's name, length and text, and changes with any."""
    farm = folder.load()
    whole = hashlib.sha256()
    for file in ("crops.toml", "farm.toml", "people.toml"):
        content = (folder.path / file).read_bytes()
        whole.update(f"{file} {len(content)}\n".encode() + content)
    assert farm.digest == whole.hexdigest()
    assert folder.add("people.toml", "# one more line").load().digest != farm.digest
    assert farm.texts["crops.toml"] == (folder.path / "crops.toml").read_text(encoding="utf-8")


def test_everyone_is_told_unless_rules_name_some(folder: Folder) -> None:
    """A priority that the rules name goes to those alone, any other to everyone."""
    folder.add("people.toml", '[[person]]\nid = "alex"\nname = "Alex"')
    folder.change("farm.toml", "# ---- Places", '[notices.send_to]\nlow = ["alex"]\n# Places')
    farm = folder.load()
    assert [each.id for each in farm.notices.told(Priority.LOW, farm.people)] == ["alex"]
    assert [each.id for each in farm.notices.told(Priority.HIGH, farm.people)] == [
        "robin", "alex",
    ]  # fmt: skip


def test_load_names_every_mistake_of_all_files_at_once(folder: Folder) -> None:
    """One failure lists the mistakes of three files, and a wrong entry hides no other."""
    folder.change("farm.toml", 'low = "36 F"', 'low = "36"')
    folder.change("farm.toml", 'place = "dry-store"', 'place = "dry-stroe"')
    folder.change("crops.toml", 'least = "3 h"', 'least = "5 h"')
    folder.change("people.toml", "addresses = []", "adresses = []")
    with pytest.raises(FarmError) as caught:
        folder.load()
    said = str(caught.value)
    assert said.startswith(f"4 mistakes in the files of {folder.path}:")
    assert 'place[walk-in-cooler].bands.temperature.ideal.low = "36"' in said
    assert "did you mean dry-store?" in said
    assert "crop[ranunculus].stage[soak].least" in said
    assert "did you mean addresses?" in said


def _batch(number: int, place: str, *, ended: bool = False) -> Batch:
    return Batch(
        id=number, crop="ranunculus", cultivar="Dawn Apricot", supplier=None, lot=None, grade=None,
        count=100, rough=False, counted_at_ms=None, received=None, rotten=None, unit="corms",
        stays=(Stay(place, "pre_sprout", 0, None),), ended_ms=1 if ended else None, held_for=None,
        parents=(),
    )  # fmt: skip


def test_a_place_that_a_batch_stands_in_cannot_go(folder: Folder) -> None:
    """A place gone from the farm is a mistake where a batch is, not where one ended."""
    farm = folder.load()
    assert missing_places(farm, [_batch(1, "sprouting-room"), _batch(2, "x", ended=True)]) == []
    (problem,) = missing_places(farm, [_batch(3, "old-room"), _batch(4, "old-room")])
    assert problem.severity == "error"
    assert problem.key == "place[old-room]"
    assert "batches 3, 4 are there" in problem.message


def test_limits_in_celsius_are_converted_and_differences_without_offset() -> None:
    """36 °F is 2.2 °C; a difference of -0.4 °F is -0.2 °C; prose stays as it is."""
    text = 'low = "36 F"\noffset = "-0.4 F"\nsource = "nights 40 to 50 F"'
    assert in_celsius(text) == 'low = "2.2 C"\noffset = "-0.2 C"\nsource = "nights 40 to 50 F"'


def test_a_picture_is_asked_for_address_by_address(folder: Folder) -> None:
    """By its number in the list; without the line nobody gets one."""
    assert folder.load().people["robin"].pictures == frozenset()
    more = 'addresses = ["json://127.0.0.1:9", "json://127.0.0.1:10"]\npictures = [2]'
    folder.change("people.toml", "addresses = []", more)
    assert folder.load().people["robin"].pictures == {2}
