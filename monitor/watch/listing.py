"""Places and sensors as JSON: the shapes that others may rely on; more keys may come."""

from collections.abc import Mapping
from typing import Any

from monitor.farm import Farm, Sensor
from monitor.model import Band, Harm, Ideal, PlaceState
from monitor.units import iso_utc
from monitor.watch.state import WatchState
from monitor.watch.status import ChannelStatus, place_status

_ORDER = (PlaceState.HARM, PlaceState.DRIFTING, PlaceState.IN_BAND, PlaceState.UNKNOWN)


def places_json(farm: Farm, state: WatchState, now_ms: int) -> list[dict[str, Any]]:
    """Return every place with its state, its own bands and its newest values. [°C], [%]"""
    return [_place_json(farm, state, place, now_ms) for place in farm.places]


def _place_json(farm: Farm, state: WatchState, place_id: str, now_ms: int) -> dict[str, Any]:
    place = farm.places[place_id]
    status = place_status(state, place_id, now_ms)
    current: dict[str, Any] = {}
    for each in sorted(status.channels, key=_preference):
        if each.value is not None:
            current.setdefault(each.channel.quantity.value, _current_json(each))
    return {
        "id": place.id, "name": place.name, "kind": place.kind.value,
        "state": status.state.value, "since": iso_utc(status.since_ms),
        "bands": {quantity.value: band_json(band) for quantity, band in place.bands.items()},
        "current": current,
        "batches": list(state.plan.places[place_id].batches),
        "alarms": [key.kind.value for key in status.alarms],
    }  # fmt: skip


def _preference(status: ChannelStatus) -> tuple[bool, int, int]:
    """Show a trusted value first, of those the worst, of those the newest."""
    return not status.trusted, _ORDER.index(status.state), -(status.at_ms or 0)


def _current_json(status: ChannelStatus) -> dict[str, Any]:
    return {
        "value": status.value, "at": iso_utc(status.at_ms), "trusted": status.trusted,
        "sensor": status.channel.sensor, "state": status.state.value,
        "trend_per_h": status.trend_per_h,
    }  # fmt: skip


def band_json(band: Band) -> dict[str, Any]:
    """Return the limits of one quantity; an absent pair is null."""
    return {
        "ideal": None if band.ideal is None else _ideal_json(band.ideal),
        "harm": None if band.harm is None else _harm_json(band.harm),
    }


def _ideal_json(ideal: Ideal) -> dict[str, Any]:
    return {
        "low": ideal.low, "high": ideal.high, "grade": ideal.grade.value, "source": ideal.source,
    }  # fmt: skip


def _harm_json(harm: Harm) -> dict[str, Any]:
    """Return harm limits; where the sides tolerate different times, both are given."""
    told = {
        "low": harm.low, "high": harm.high, "tolerated_s": harm.tolerated_high_s,
        "cumulative_s": harm.cumulative_s, "grade": harm.grade.value, "source": harm.source,
    }  # fmt: skip
    if harm.tolerated_low_s != harm.tolerated_high_s:
        told["tolerated_low_s"] = harm.tolerated_low_s
    return told


def sensors_json(farm: Farm, heard: Mapping[str, int]) -> list[dict[str, Any]]:
    """Return every sensor with its channels and when it was last heard.

    Parameters
    ----------
    farm : Farm
        What was declared.
    heard : Mapping[str, int]
        When each sensor was last heard; absent where never. [ms]
    """
    return [_sensor_json(each, heard.get(each.id)) for each in farm.sensors.values()]


def _sensor_json(sensor: Sensor, heard_ms: int | None) -> dict[str, Any]:
    return {
        "id": sensor.id, "name": sensor.name, "place": sensor.place, "topic": sensor.topic,
        "interval_s": sensor.interval_s, "silent_after_s": sensor.silent_after_s,
        "last_heard_at": iso_utc(heard_ms),
        "channels": [
            {"quantity": each.quantity.value, "path": each.path, "unit": each.unit}
            for each in sensor.channels
        ],
    }  # fmt: skip
