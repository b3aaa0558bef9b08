"""What an alarm that is over was about, in plain words."""

from collections.abc import Mapping
from typing import Final

from monitor.alarms.wording import Wording
from monitor.model import Alarm, AlarmKind, Quantity

_HAPPENED: Final[Mapping[AlarmKind, str]] = {
    AlarmKind.TOO_WARM: "{place} was too warm",
    AlarmKind.TOO_COLD: "{place} was too cold",
    AlarmKind.TOO_DRY: "{place} was too dry",
    AlarmKind.TOO_WET: "{place} was too damp",
    AlarmKind.SENSOR_SILENT: "{place}: sensor {sensor} was silent",
    AlarmKind.SENSOR_DOUBTFUL: "{place}: sensor {sensor} was not believed",
    AlarmKind.BATTERY_LOW: "{place}: the battery of sensor {sensor} was low",
    AlarmKind.SENSORS_DARK: "Several sensors were silent together",
    AlarmKind.MAINS_LOST: "{place} was without power",
    AlarmKind.DOOR_OPEN: "{place}: the door stood open",
    AlarmKind.WORKING_HARDER: "{place} worked harder than it used to",
    AlarmKind.STAGE_ENDING: "{place}: {batch} came to the longest time of its stage",
    AlarmKind.WRONG_PLACE: "{place}: a batch was harmed there",
    AlarmKind.STORE_FAILED: "The monitor could not keep readings",
    AlarmKind.BROKER_LOST: "The monitor heard nothing",
    AlarmKind.CONFIGURATION_REFUSED: "The farm's files had a mistake",
    AlarmKind.NOTICES_FAILED: "No message reached anybody",
    AlarmKind.FARM_DARK: "The farm's monitor was not heard",
}


def happened(alarm: Alarm, words: Wording) -> str:
    """Return what was wrong: ``"Tunnel 2 was too cold"``, whatever its title says by now."""
    place = words.place(alarm.place)
    if alarm.quantity is Quantity.SOIL_TEMPERATURE:
        place = f"{place} soil"
    batch = words.batch(alarm.batches[0]) if alarm.batches else "a batch"
    told = _HAPPENED[alarm.key.kind]
    if alarm.facts.get("warming"):
        told = "{place} was warming"
    return told.format(place=place, sensor=words.sensor(alarm.sensor), batch=batch)
