"""What farms have that no example shows."""

from pathlib import Path

from tests.web.desk import PEOPLE, SmallDesk

FARM = """
[farm]
name = {name!r}
time_zone = "Pacific/Auckland"
latitude = -41.0
longitude = 174.0
units = "C"

[broker]
embedded = true
"""
MARKUP = "<script>alert(\"x\")</script> & 'co'"
LONG = "Very " * 60


def toml(text: str) -> str:
    """Return a text as TOML has it."""
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def place(number: int, name: str, *, heard: bool) -> str:
    """Return a place's table, with that of a sensor where it is to be heard."""
    told = f'\n[[place]]\nid = "p{number}"\nname = {toml(name)}\nkind = "tunnel"\n'
    sensor = (
        f'\n[[sensor]]\nid = "s{number}"\nname = {toml(name)}\nplace = "p{number}"\n'
        f'topic = "t/{number}"\ninterval = "1 min"\n[[sensor.channel]]\n'
        'quantity = "temperature"\nunit = "C"\n'
    )
    return told + (sensor if heard else "")


def desk_in(folder: Path, places: str, crops: str = "") -> SmallDesk:
    """Return a desk of a farm whose places are given."""
    (folder / "farm.toml").write_text(FARM.format(name="Odd") + places, encoding="utf-8")
    (folder / "crops.toml").write_text(crops, encoding="utf-8")
    (folder / "people.toml").write_text(PEOPLE, encoding="utf-8")
    return SmallDesk(folder)
