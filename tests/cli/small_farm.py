"""A small made-up farm in a folder, for commands."""

from pathlib import Path
from typing import Final

from monitor.model import (
    Alarm,
    AlarmKey,
    AlarmKind,
    AlarmState,
    AuditLine,
    Decision,
    Priority,
    Quantity,
)

START_MS: Final = 1_768_528_800_000

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


def raised(_open: Alarm | None) -> Decision:
    """Return the decision that raises the cooler's warmth, as the ledger takes it."""
    normal, new = AlarmState.NORMAL, AlarmState.UNACKNOWLEDGED
    alarm = Alarm(
        0, AlarmKey(AlarmKind.TOO_WARM, "walk-in-cooler"), Priority.HIGH, new, "walk-in-cooler",
        None, Quantity.TEMPERATURE, (1,), START_MS, START_MS, None, None, None, 8.0, 5.6, 8.5,
        "Walk-in cooler is warm", "8 °C",
    )  # fmt: skip
    return Decision(alarm, (AuditLine(START_MS, "watch", normal, new, 8.0, 5.6, ""),), ())
