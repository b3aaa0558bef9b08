"""What the configurations that were accepted say of a time gone by: limits and sensors."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from monitor.batches.pieces import Version
from monitor.farm import Farm, Recalled, Sensor, declared_ids, places_of_sensors, recall
from monitor.phrase import Phrase
from monitor.store import Configuration

TODAYS_LIMITS = Phrase("No earlier farm files were accepted: the limits are today's.")
UNREADABLE = Phrase("Some earlier farm files can no longer be read: later ones stand in for them.")


@dataclass(frozen=True, slots=True)
class Edition:
    """What the farm was from a time on; ``since_ms`` of the first is 0. [ms]"""

    since_ms: int
    farm: Recalled


@dataclass(frozen=True, slots=True)
class Past:
    """The farm's editions in order of time, the newest its files of today, and notes."""

    editions: tuple[Edition, ...]
    notes: tuple[str, ...]


def past_of(farm: Farm, accepted: Sequence[Configuration]) -> Past:
    """Return the farm's editions; what cannot be read any more is left out, and noted."""
    today = Recalled(farm.places, farm.sensors, farm.crops)
    if not accepted:
        return Past((Edition(0, today),), (TODAYS_LIMITS,))
    found: list[Edition] = []
    unreadable = False
    for each in accepted:
        then = today if each.digest == farm.digest else recall(each.texts)
        if then is None:
            unreadable = True
            continue
        if not found or found[-1].farm != then:
            found.append(Edition(each.at_ms if found else 0, then))
    if not found:
        found.append(Edition(0, today))
    return Past(tuple(found), (UNREADABLE,) if unreadable else ())


def versions_of(past: Past, crop: str) -> list[Version]:
    """Return the bands of a crop's stages, and of the places, as they were in force."""
    return [
        Version(
            edition.since_ms,
            {
                name: stage.bands
                for name, stage in (
                    edition.farm.crops[crop].stages.items() if crop in edition.farm.crops else ()
                )
            },
            {name: place.bands for name, place in edition.farm.places.items()},
        )
        for edition in past.editions
    ]


def posted_since(
    farm: Farm, accepted: Sequence[Configuration], now_ms: int, back_to_ms: int = 0
) -> dict[str, int]:
    """Return since when each sensor hangs where it does; 0 where it always did.

    What it told before that is another place's, or another instrument's of the same id.

    Parameters
    ----------
    farm : Farm
        The farm of today.
    accepted : sequence of Configuration
        The accepted configurations, the oldest first.
    now_ms : int
        Since when at the latest: no configuration that was accepted has it there yet. [ms]
    back_to_ms : int, optional
        What was before is not asked for. [ms]
    """
    here = {each.id: each.place for each in farm.sensors.values()}
    found, lasting = dict.fromkeys(here, now_ms), set(here)
    for each in reversed(accepted):
        then = places_of_sensors(each.texts)
        if then is None:
            continue
        lasting = {sensor for sensor in lasting if then.get(sensor) == here[sensor]}
        found |= dict.fromkeys(lasting, min(each.at_ms, now_ms))
        if not lasting or each.at_ms <= back_to_ms:
            return found
    return found | dict.fromkeys(lasting, 0)


def ids_used(
    taken: Iterable[str], accepted: Sequence[Configuration], file: str, table: str
) -> set[str]:
    """Return the ids that are taken, or were in any configuration that was accepted."""
    return {*taken, *declared_ids((each.texts.get(file, "") for each in accepted), table)}


@dataclass(frozen=True, slots=True)
class Posting:
    """A sensor that hung in a place for a time; ``until_ms`` None while it does. [ms]"""

    sensor: Sensor
    since_ms: int
    until_ms: int | None


def postings_in(past: Past, today: Mapping[str, Sensor], place: str) -> list[Posting]:
    """Return the sensors that hung in a place, with today's calibrations where known."""
    found: list[Posting] = []
    ends = [*(each.since_ms for each in past.editions[1:]), None]
    for edition, until_ms in zip(past.editions, ends, strict=True):
        for sensor in edition.farm.sensors.values():
            if sensor.place != place:
                continue
            known = today.get(sensor.id, sensor)
            last = next((n for n, each in enumerate(found) if each.sensor.id == sensor.id), None)
            if last is not None and found[last].until_ms == edition.since_ms:
                found[last] = Posting(known, found[last].since_ms, until_ms)
            else:
                found.insert(0, Posting(known, edition.since_ms, until_ms))
    return sorted(found, key=lambda each: (each.sensor.id, each.since_ms))
