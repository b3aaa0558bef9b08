"""A small made-up farm in a folder, for commands."""

from pathlib import Path

FARM = """
[farm]
name = "Otter Bend Flowers"
time_zone = "America/New_York"
latitude = 42.4
longitude = -76.5
units = "F"

[[place]]
id = "sprouting-room"
name = "Sprouting room"
kind = "sprouting_room"

[[place]]
id = "tunnel-2"
name = "Tunnel 2"
kind = "tunnel"

[[place]]
id = "walk-in-cooler"
name = "Walk-in cooler"
kind = "cooler"
[place.bands.temperature.ideal]
low = "36 F"
high = "40 F"
grade = "CP"
source = "common practice"

[[sensor]]
id = "cooler-door"
place = "walk-in-cooler"
topic = "farm/cooler"
interval = "1 min"
[[sensor.channel]]
quantity = "temperature"
unit = "F"
"""

CROPS = """
[[crop]]
id = "ranunculus"
name = "Ranunculus"
[[crop.stage]]
id = "pre_sprout"
name = "Pre-sprout"
places = ["sprouting_room"]
unit = "corms"
[[crop.stage]]
id = "bloom"
name = "Bloom"
places = ["tunnel", "field"]
unit = "plants"
[[crop.stage]]
id = "cut_stems"
name = "Cut stems"
places = ["cooler"]
unit = "stems"
[crop.stage.bands.temperature.ideal]
low = "36 F"
high = "40 F"
grade = "CP"
source = "common practice"

[[crop]]
id = "basil"
name = "Basil"
[[crop.stage]]
id = "bloom"
places = ["tunnel"]
unit = "plants"
[[crop.stage]]
id = "cut_stems"
name = "Cut stems"
places = ["cooler"]
unit = "stems"
[crop.stage.bands.temperature.harm]
low = "50 F"
tolerated = "30 min"
grade = "?"
source = "growers' word"
"""

PEOPLE = """
[[person]]
id = "wren"
name = "Wren"
"""


def small_farm(folder: Path) -> Path:
    """Write the farm's files into a folder and return it."""
    for name, text in (("farm", FARM), ("crops", CROPS), ("people", PEOPLE)):
        (folder / f"{name}.toml").write_text(text, encoding="utf-8")
    return folder
