"""Each mistake in the files is named by file, key, value and remedy."""

import pytest

from tests.farm.folders import Folder

BAND = "place[walk-in-cooler].bands.temperature"
SOIL = 'quantity = "soil_temperature"\nunit = "F"'
SOIL_CHANNEL = "sensor[tunnel-2-soil].channel[soil_temperature]"
TWO_AT_ONCE = (
    "\ncalibration = [{ since = 2026-01-01, offset = '-0.4 F' }, "
    "{ since = 2026-01-01, offset = '1 C' }]"
)
COOLER = 'low = "36 F", high = "40 F"'

# file, what stands there, what is written instead, the key blamed, words that must be said
MISTAKES = [
    ("farm.toml", 'units = "F" ', 'units = "f" ', "farm.units", "did you mean F?"),
    ("farm.toml", "latitude = 42.4", "latitude = 142.4", "farm.latitude", "142.4"),
    ("farm.toml", "latitude = 42.4", 'latitude = "42"', "farm.latitude", "without quotes"),
    ("farm.toml", "latitude = 42.4", "latitude = nan", "farm.latitude", "nan"),
    ("farm.toml", 'name = "Brindlewick Flowers"', "", "farm.name", "missing; add it: name"),
    ("farm.toml", "America/New_York", "America/NewYork", "farm.time_zone",
     "did you mean America/New_York?"),
    ("farm.toml", "America/New_York", "America", "farm.time_zone", "no such time zone"),
    ("farm.toml", "America/New_York", "../../etc/passwd", "farm.time_zone", "no such time zone"),
    ("farm.toml", "port = 1883", 'port = "1883"', "broker.port", "whole number"),
    ("farm.toml", "port = 1883", "port = 70000", "broker.port", "65535"),
    ("farm.toml", "port = 1883", "prot = 1883", "broker.prot", "did you mean port?"),
    ("farm.toml", "embedded = false", "embedded = 0", "broker.embedded", "true or false"),
    ("farm.toml", 'host = "127.0.0.1"', 'host = "barn:1884"', "broker.host", "port = 1884"),
    ("farm.toml", 'host = "127.0.0.1"', 'host = "mqtt://barn"', "broker.host", "form"),
    ("farm.toml", "[notices]", "[notises]", "notises", "did you mean notices?"),
    ("farm.toml", 'quiet_from = "21:00" ', 'quiet_from = "21:60" ', "notices.quiet_from",
     "time of day"),
    ("farm.toml", 'quiet_from = "21:00" ', "# ", "notices.quiet_from", "beginning and an end"),
    ("farm.toml", 'remind_after = "30 min"', "remind_after = 30", "notices.remind_after",
     '"45 min"'),
    ("farm.toml", 'frost_chance = "20 %"', "frost_chance = 20", "notices.frost_chance", '"95 %"'),
    ("farm.toml", 'frost_chance = "20 %"', 'frost_chance = "0 %"', "notices.frost_chance", "1"),
    ("farm.toml", 'covers_before = "2 h"', 'covers_before = "5 h"', "notices.covers_before",
     "14400"),
    ("farm.toml", 'open_at = "75 F"', 'open_at = "75"', "notices.open_at", "unit"),
    ("farm.toml", 'kind = "cooler"', 'kind = "coolar"', "place[walk-in-cooler].kind",
     "did you mean cooler?"),
    ("farm.toml", 'id = "walk-in-cooler"', 'id = "Walk in"', "place[3].id", "small letters"),
    ("farm.toml", 'id = "tunnel-2"\nname', 'id = "tunnel-1"\nname', "place[tunnel-1].id",
     "two entries"),
    ("farm.toml", 'name = "Tunnel 2"', 'name = "tunnel-1"', "place[tunnel-2].name", "same name"),
    ("farm.toml", COOLER, 'low = "36 F", high = "3 F"', f"{BAND}.ideal", "not below high"),
    ("farm.toml", COOLER, 'low = "33 F", high = "40 F"', f"{BAND}.ideal.low", "harm limit 33 °F"),
    ("farm.toml", COOLER, 'low = "36 F", high = "45 F"', f"{BAND}.ideal.high", "harm limit 42 °F"),
    ("farm.toml", COOLER, 'low = "36 X", high = "40 F"', f"{BAND}.ideal.low", "as 38 F or 3.3 C"),
    ("farm.toml", COOLER, 'lo = "36 F", high = "40 F"', f"{BAND}.ideal.lo", "did you mean low?"),
    ("farm.toml", f"{COOLER}, ", "", f"{BAND}.ideal", "no limit in it"),
    ("farm.toml", COOLER, 'low = "36 F", high = "40 C"', f"{BAND}.ideal.high", "104 °F"),
    ("farm.toml", 'grade = "CP", source = "common practice for', 'grade = "A", source = "x',
     f"{BAND}.ideal.grade", "none of the choices"),
    ("farm.toml", 'mixed stems"', 'mixed stems", sorce = "x"', f"{BAND}.ideal.sorce",
     "did you mean source?"),
    ("farm.toml", ', source = "common practice for ranunculus, anemone and mixed stems"', "",
     f"{BAND}.ideal.source", "missing"),
    ("farm.toml", "[place.bands.temperature]", "[place.bands.temprature]",
     "place[walk-in-cooler].bands.temprature", "did you mean temperature?"),
    ("farm.toml", 'topic = "farm/soak/water"', 'topic = "farm/+/water"',
     "sensor[soak-water].topic", "wildcards"),
    ("farm.toml", 'topic = "farm/soak/water"', 'topic = "farm/cooler/back"',
     "sensor[soak-water].topic", "sensor[cooler-back] claims the same value"),
    ("farm.toml", 'place = "soak-bucket"', 'place = "soak_bucket"', "sensor[soak-water].place",
     "did you mean soak-bucket?"),
    ("farm.toml", 'interval = "10 min"', 'interval = "0 s"', "sensor[tunnel-2-soil].interval",
     "60 s"),
    ("farm.toml", 'interval = "10 min"', 'interval = "8 d"', "sensor[tunnel-2-soil].interval",
     "seldom"),
    ("farm.toml", 'interval = "10 min"', 'interval = "10 min"\nsilent_after = "5 min"',
     "sensor[tunnel-2-soil].silent_after", "two to three intervals"),
    ("farm.toml", 'path = "air.humidity"\nunit = "%"', 'path = "air.humidity"\nunit = "C"',
     "sensor[sprouting-shelf].channel[humidity].unit", 'unit = "%"'),
    ("farm.toml", 'path = "air.humidity"\nunit = "%"', 'path = "air.humidity"',
     "sensor[sprouting-shelf].channel[humidity].unit", "unit is missing"),
    ("farm.toml", 'path = "air.humidity"', 'path = "air.temperature"',
     "sensor[sprouting-shelf].channel", "path air.temperature"),
    ("farm.toml", SOIL, f'{SOIL}\n[[sensor.channel]]\npath = "x"\n{SOIL}', SOIL_CHANNEL, "2 times"),
    ("farm.toml", SOIL, f"{SOIL}{TWO_AT_ONCE}", f"{SOIL_CHANNEL}.calibration", "same time"),
    ("farm.toml", SOIL, f"{SOIL}\ncalibration = [{{ since = '14.3.', offset = '1 C' }}]",
     f"{SOIL_CHANNEL}.calibration[1].since", "14.3."),
    ("crops.toml", "late_harms = true", 'late_harms = "yes"',
     "crop[ranunculus].stage[soak].late_harms", "true or false"),
    ("crops.toml", 'tell_before = "1 h"', 'tell_before = "4 h"',
     "crop[ranunculus].stage[soak].tell_before", "at once"),
    ("crops.toml", 'longest = "4 h"\n', "", "crop[ranunculus].stage[soak].late_harms",
     "no longest time"),
    ("crops.toml", 'time_grade = "CP"\n', "", "crop[ranunculus].stage[soak].time_grade",
     "no grade"),
    ("crops.toml", '"soak_bucket"]', '"soak_buckett"]', "crop[ranunculus].stage[soak].places[1]",
     "did you mean soak_bucket?"),
    ("crops.toml", 'id = "received"', 'id = "soak"', "crop[ranunculus].stage[soak].id",
     "2 stages"),
    ("crops.toml", 'id = "anemone"', 'id = "ranunculus"', "crop[ranunculus].id", "two entries"),
    ("crops.toml", "[kind.cooler]", "[kind.coolers]", "kind.coolers", "did you mean cooler?"),
    ("crops.toml", 'low = "90 %", high = "95 %"', 'low = "90 %", high = "195 %"',
     "kind.cooler.bands.humidity.ideal.high", "195 %"),
    ("people.toml", 'id = "robin"', "", "person[1].id", "missing"),
    ("people.toml", "[[person]]", "[person]", "person", "two brackets"),
    ("people.toml", "addresses = []", 'addresses = ["env:NO_SUCH"]', "person[robin].addresses[1]",
     "variable NO_SUCH is not set"),
    ("people.toml", "addresses = []", 'addresses = ["file:gone"]', "person[robin].addresses[1]",
     "cannot be read (No such file"),
    ("people.toml", "addresses = []", 'addresses = ["json://127.0.0.1:9"]\npictures = [2]',
     "person[robin].pictures", "count them from 1"),
]  # fmt: skip


@pytest.mark.parametrize("mistake", MISTAKES, ids=[f"{m[3]}-{m[4]}" for m in MISTAKES])
def test_a_mistake_names_file_key_and_remedy(
    folder: Folder, mistake: tuple[str, str, str, str, str]
) -> None:
    """A mistake is an error with its file, its key and what to do about it."""
    file, old, new, key, said = mistake
    folder.change(file, old, new)
    found = [each for each in folder.check() if each.key == key and said in str(each)]
    assert found, [str(each) for each in folder.check()]
    assert {each.severity for each in found} == {"error"}
    assert {each.file for each in found} == {file}
    assert all(each.remedy for each in found)


def test_a_missing_folder_says_how_to_begin(folder: Folder) -> None:
    """Each file that is not there is named, with the command that writes a starter."""
    for file in folder.path.iterdir():
        file.unlink()
    problems = folder.check()
    assert [each.file for each in problems] == ["farm.toml", "crops.toml", "people.toml"]
    assert all("cormwatch init DIR" in each.remedy for each in problems)


def test_a_slip_of_the_pen_names_its_line(folder: Folder) -> None:
    """A file that is no TOML is named with the line."""
    folder.change("farm.toml", "[farm]\n", "[farm]\nname = Brindlewick\n")
    (problem,) = [each for each in folder.check() if each.severity == "error"]
    assert problem.file == "farm.toml"
    assert "at line 11" in problem.message


def test_bytes_that_are_no_text_name_their_line(folder: Folder) -> None:
    """A file in another encoding is named with the line."""
    (folder.path / "people.toml").write_bytes(b'[[person]]\nid = "r"\nname = "Ren\xe9"\n')
    (problem,) = [each for each in folder.check() if each.severity == "error"]
    assert "line 3" in problem.message


@pytest.mark.parametrize("bomb", ["a = " + "[" * 100_000, "#" * 1_000_001], ids=["deep", "large"])
def test_an_absurd_file_is_refused(folder: Folder, bomb: str) -> None:
    """A file far too deep or too large is an error like any other."""
    folder.add("people.toml", bomb)
    assert any(each.file == "people.toml" and each.severity == "error" for each in folder.check())


def test_a_wrong_entry_is_still_a_place_for_its_sensors(folder: Folder) -> None:
    """A mistake in a place is told once, and not again by each sensor in it."""
    folder.change("farm.toml", 'kind = "cooler"', 'kind = "fridge"')
    errors = [each for each in folder.check() if each.severity == "error"]
    assert [each.key for each in errors] == ["place[walk-in-cooler].kind"]
