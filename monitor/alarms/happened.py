"""What an alarm that is over was about, in plain words."""

from collections.abc import Mapping
from typing import Final

from monitor.alarms.wording import Wording
from monitor.model import Alarm, AlarmKind, Quantity
from monitor.phrase import Phrase

_HAPPENED: Final[Mapping[AlarmKind, str]] = {
    AlarmKind.TOO_WARM: Phrase("{place} was too warm"),
    AlarmKind.TOO_COLD: Phrase("{place} was too cold"),
    AlarmKind.TOO_DRY: Phrase("{place} was too dry"),
    AlarmKind.TOO_WET: Phrase("{place} was too damp"),
    AlarmKind.SENSOR_SILENT: Phrase("{place}: sensor {sensor} was silent"),
    AlarmKind.SENSOR_DOUBTFUL: Phrase("{place}: sensor {sensor} was not believed"),
    AlarmKind.BATTERY_LOW: Phrase("{place}: the battery of sensor {sensor} was low"),
    AlarmKind.SENSORS_DARK: Phrase("Several sensors were silent together"),
    AlarmKind.MAINS_LOST: Phrase("{place} was without power"),
    AlarmKind.DOOR_OPEN: Phrase("{place}: the door stood open"),
    AlarmKind.WORKING_HARDER: Phrase("{place} worked harder than it used to"),
    AlarmKind.STAGE_ENDING: Phrase("{place}: {batch} came to the longest time of its stage"),
    AlarmKind.WRONG_PLACE: Phrase("{place}: a batch was harmed there"),
    AlarmKind.STORE_FAILED: Phrase("The monitor could not keep readings"),
    AlarmKind.RECORD_LOST: Phrase("The record of batches was lost"),
    AlarmKind.DISK_FILLING: Phrase("The monitor's disk was filling"),
    AlarmKind.DISK_SHORT: Phrase("The monitor's disk was almost full"),
    AlarmKind.BROKER_LOST: Phrase("The monitor heard nothing"),
    AlarmKind.CONFIGURATION_REFUSED: Phrase("The farm's files had a mistake"),
    AlarmKind.NOTICES_FAILED: Phrase("No message reached anybody"),
    AlarmKind.FARM_DARK: Phrase("The farm's monitor was not heard"),
}


def happened(alarm: Alarm, words: Wording) -> str:
    """Return what was wrong: ``"Tunnel 2 was too cold"``, whatever its title says by now."""
    place = words.place(alarm.place)
    if alarm.quantity is Quantity.SOIL_TEMPERATURE:
        place = Phrase("{place} soil", place=place)
    batch = words.batch(alarm.batches[0]) if alarm.batches else Phrase("a batch")
    told = _HAPPENED[alarm.key.kind]
    if alarm.facts.get("warming"):
        told = Phrase("{place} was warming")
    elif alarm.facts.get("nearing"):
        told = Phrase("{place} headed for its limit")
    return Phrase(told, place=place, sensor=words.sensor(alarm.sensor), batch=batch)
