"""What is doubtful but usable is told, and the farm loads all the same."""

import pytest

from tests.farm.folders import Folder


def test_the_starter_farm_lacks_only_an_address(folder: Folder) -> None:
    """Nothing is wrong with the starter farm except that nobody can be told yet."""
    (problem,) = folder.check()
    assert problem.severity == "warning"
    assert "no phone is woken" in problem.message


SOIL = 'quantity = "soil_temperature"\nunit = "F"'
SOIL_CHANNEL = "sensor[tunnel-2-soil].channel[soil_temperature]"
DOUBTS = [
    ("farm.toml", 'place = "soak-bucket"', 'place = "dry-store"', "place[soak-bucket]",
     "no sensor hangs"),
    ("farm.toml", "longitude = -73.3", "longitude = 73.3", "farm.longitude", "negative"),
    ("farm.toml", 'interval = "10 min"', 'interval = "45 min"', "sensor[tunnel-2-soil].interval",
     "at least every 30 min"),
    ("farm.toml", 'tolerated = "45 min", tolerated_low = "20 min"', 'cumulative = "2 h"',
     "place[walk-in-cooler].bands.temperature.harm.tolerated", "single reading wakes"),
    ("farm.toml", '"127.0.0.1:8484"', '"0.0.0.0:8484"', "pages.listen",
     "open to the network"),
    ("farm.toml", "[pages]", "[notices.send_to]\nlow = []\n[pages]", "notices.send_to.low",
     "nobody is told of low"),
    ("farm.toml", 'low = "36 F", high = "40 F"', 'low = "31 F", high = "32 F"',
     "place[walk-in-cooler].bands.temperature.ideal", "harms Ranunculus (cut stems)"),
    ("farm.toml", 'low = "36 F", high = "40 F"', 'low = "54 F", high = "60 F"',
     "place[walk-in-cooler].bands.temperature.ideal", "harms Ranunculus (cut stems)"),
    ("farm.toml", SOIL, f"{SOIL}\ncalibration = [{{ since = 2027-01-01, offset = '-0.4 F' }}]",
     f"{SOIL_CHANNEL}.calibration[1].since", "in the future"),
]  # fmt: skip


@pytest.mark.parametrize("doubt", DOUBTS, ids=[f"{m[3]}-{m[4]}" for m in DOUBTS])
def test_a_doubt_is_told_as_a_warning(
    folder: Folder, doubt: tuple[str, str, str, str, str]
) -> None:
    """A doubtful setting is a warning that names its key."""
    file, old, new, key, said = doubt
    found = [each for each in folder.change(file, old, new).check() if each.key == key]
    assert any(said in str(each) for each in found), [str(each) for each in folder.check()]
    assert any(each.severity == "warning" for each in found)


def test_one_topic_for_two_sensors_is_told(folder: Folder) -> None:
    """Two sensors may share a message by different paths, and that is told."""
    folder.change("farm.toml", 'topic = "farm/tunnel-2/air"', 'topic = "farm/sprouting/shelf"')
    problem = folder.one("sensor[tunnel-2-air].topic")
    assert problem.severity == "warning"
    assert "sensor[sprouting-shelf] claims this topic too" in problem.message
    assert folder.load().sensors["tunnel-2-air"].topic == "farm/sprouting/shelf"


def test_a_cold_loving_flower_in_the_cooler_is_no_contradiction(folder: Folder) -> None:
    """Flowers best at 0 to 1 °C only last less long at 2 to 4 °C, so nothing is said."""
    said = " ".join(str(each) for each in folder.check())
    assert "Anemone" not in said
    assert "Lisianthus" not in said


def test_one_person_without_an_address_is_named(folder: Folder) -> None:
    """Where another person can be told, the one who cannot is named."""
    folder.add("people.toml", '[[person]]\nid = "alex"\nname = "Alex"\naddresses = ["env:ALEX"]')
    problem = folder.one("person[robin].addresses", ALEX="json://127.0.0.1/")
    assert problem.severity == "warning"
    assert "Robin has no address" in problem.message
