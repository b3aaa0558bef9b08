"""What a heartbeat says of the farm: short, and no addresses in it."""

from typing import Any, Final

from monitor import watch
from monitor.alarms.saying import say_value
from monitor.daemon.judge import Judge
from monitor.model import AlarmState, PlaceState, Quantity
from monitor.units import iso_utc

_WORST: Final = (PlaceState.HARM, PlaceState.DRIFTING, PlaceState.UNKNOWN, PlaceState.IN_BAND)
_MOST: Final = 8
_CLOSED: Final = (AlarmState.NORMAL, AlarmState.RETURNED_UNACKNOWLEDGED)


def heartbeat_body(judge: Judge, now_ms: int, *, summary: bool) -> dict[str, Any]:
    """Return a heartbeat: when, of which farm, its worst place; with ``summary`` each place too."""
    plan = judge.state.plan
    places = [
        watch.place_status(judge.state, each, now_ms)
        for each in judge.farm.places
        if each in plan.places
    ]
    states = {each.state for each in places}
    worst = next((each for each in _WORST if each in states), PlaceState.UNKNOWN)
    body: dict[str, Any] = {
        "at": iso_utc(now_ms),
        "farm": judge.farm.watcher.watches or judge.farm.name,
        "worst": worst.value,
    }
    if summary:
        body["places"] = [_place(judge, each) for each in places][:_MOST]
        body["alarms"] = _alarms(judge)
    return body


def _place(judge: Judge, status: watch.PlaceStatus) -> str:
    """Return ``"Walk-in cooler 37.9 °F, about 640 stems"``."""
    name = judge.words.place(status.place)
    known = [
        each
        for each in status.channels
        if each.channel.quantity is Quantity.TEMPERATURE and each.value is not None
        and each.state is not PlaceState.UNKNOWN
    ]  # fmt: skip
    figure = "not known"
    if known:
        warmest = max(each.value or 0.0 for each in known)
        figure = say_value(warmest, Quantity.TEMPERATURE, judge.farm.units)
    return ", ".join([f"{name} {figure}", *_counts(judge, status.place)])


def _counts(judge: Judge, place: str) -> list[str]:
    sums: dict[str, int] = {}
    rough: set[str] = set()
    for batch in judge.words.batches.values():
        if batch.stay is not None and batch.stay.place == place and batch.count is not None:
            sums[batch.unit] = sums.get(batch.unit, 0) + batch.count
            if batch.rough:
                rough.add(batch.unit)
    return [f"{'about ' if unit in rough else ''}{n:,} {unit}" for unit, n in sums.items()]


def _alarms(judge: Judge) -> list[str]:
    found = judge.ledger.alarms(open_only=True)
    return [each.title for each in found if each.state not in _CLOSED][:_MOST]
