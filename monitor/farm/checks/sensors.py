"""Sensors: where they hang, what they claim, how often they speak."""

from collections import Counter
from collections.abc import Iterator
from itertools import combinations
from typing import Final

from monitor.farm import building
from monitor.farm.blame import show
from monitor.farm.checks.site import zone_of
from monitor.farm.forms import SensorForm
from monitor.farm.forms.farm_file import ChannelForm
from monitor.farm.naming import nearest
from monitor.farm.problem import Problem
from monitor.farm.sheets import FARM, Entry, Sheets
from monitor.model import Quantity

_SHORTEST_S: Final = 1.0
_LONGEST_S: Final = 1800.0  # EN 12830: in a store at least every 30 min (secondary source)
_ABSURD_S: Final = 86_400.0
_UNITS: Final = {
    Quantity.TEMPERATURE: ("C", "F", "K"), Quantity.SOIL_TEMPERATURE: ("C", "F", "K"),
    Quantity.HUMIDITY: ("%",), Quantity.BATTERY: ("%",),
    Quantity.DOOR: (None,), Quantity.MAINS: (None,),
}  # fmt: skip


def problems(sheets: Sheets, now_ms: int) -> Iterator[Problem]:
    """Yield what is wrong or doubtful with the sensors."""
    for entry in sheets.sensors:
        yield from _place(sheets, entry)
        yield from _times(entry)
        for channel in entry.form.channel:
            yield from _channel(entry.where, channel)
            yield from _calibrations(sheets, entry.where, channel, now_ms)
        yield from _quantities(entry)
    for one, other in combinations(sheets.sensors, 2):
        if one.form.topic == other.form.topic:
            yield _claimed_twice(one, other)


def _place(sheets: Sheets, entry: Entry[SensorForm]) -> Iterator[Problem]:
    known = sheets.written.get("place", set())
    if entry.form.place in known:
        return
    near = nearest(entry.form.place, sorted(known))
    hint = f"did you mean {near}? " if near else ""
    listed = ", ".join(sorted(known)) or "none"
    yield Problem(
        "error", FARM, f"{entry.where}.place", show(entry.form.place), "there is no such place",
        f"{hint}The ids of the places are {listed}",
    )  # fmt: skip


def _times(entry: Entry[SensorForm]) -> Iterator[Problem]:
    form, key = entry.form, f"{entry.where}.interval"
    shown = f"{form.interval:g} s"
    if not 0 < form.interval <= _ABSURD_S:
        yield Problem(
            "error", FARM, key, shown, "no sensor worth waiting for speaks that seldom"
            if form.interval else "an interval of nothing", 'write it as "60 s" or "5 min"',
        )  # fmt: skip
    elif form.interval < _SHORTEST_S:
        yield Problem(
            "warning", FARM, key, shown, "that is very often", "once a minute is plenty",
        )  # fmt: skip
    elif form.interval > _LONGEST_S:
        yield Problem(
            "warning", FARM, key, shown, "that is seldom: a store is logged at least every 30 min",
            "let the sensor speak more often",
        )  # fmt: skip
    for name in ("silent_after", "allowed_gap"):
        value = getattr(form, name)
        if value is not None and value <= form.interval:
            yield Problem(
                "error", FARM, f"{entry.where}.{name}", f"{value:g} s",
                f"this is not longer than the interval ({shown}), so every pause would count",
                "make it two to three intervals, or leave it out",
            )  # fmt: skip


def _channel(where: str, channel: ChannelForm) -> Iterator[Problem]:
    fitting = _UNITS[channel.quantity]
    if channel.unit in fitting:
        return
    needs = " or ".join(f'unit = "{each}"' for each in fitting if each)
    yield Problem(
        "error", FARM, f"{where}.channel[{channel.quantity.value}].unit", show(channel.unit),
        f"{channel.quantity.value} is not given in that" if channel.unit else "the unit is missing",
        f"write {needs}" if needs else "leave it out: door and mains are 0 or 1",
    )  # fmt: skip


def _calibrations(
    sheets: Sheets, where: str, channel: ChannelForm, now_ms: int
) -> Iterator[Problem]:
    zone = zone_of(sheets.farm)
    key = f"{where}.channel[{channel.quantity.value}].calibration"
    since = [building.at_ms(each.since, zone) for each in channel.calibration if zone]
    for number, (form, at_ms) in enumerate(zip(channel.calibration, since, strict=False), start=1):
        if at_ms > now_ms:
            yield Problem(
                "warning", FARM, f"{key}[{number}].since", f"{form.since:%Y-%m-%d}",
                "the calibration is in the future", "it applies from then on; is the year right?",
            )  # fmt: skip
    if len(set(since)) < len(since):
        yield Problem(
            "error", FARM, key, "", "two calibrations begin at the same time",
            "keep one of them",
        )  # fmt: skip


def _quantities(entry: Entry[SensorForm]) -> Iterator[Problem]:
    for quantity, count in Counter(each.quantity for each in entry.form.channel).items():
        if count > 1:
            yield Problem(
                "error", FARM, f"{entry.where}.channel[{quantity.value}]", "",
                f"the sensor measures {quantity.value} {count} times",
                "declare a second sensor with the same topic and the other path",
            )  # fmt: skip
    paths = Counter(each.path for each in entry.form.channel)
    for path, count in paths.items():
        if count > 1:
            said = "a bare number" if path is None else f"path {path}"
            yield Problem(
                "error", FARM, f"{entry.where}.channel", "", f"{count} channels read {said}",
                "give each channel the path of its own value in the message",
            )  # fmt: skip


def _claimed_twice(one: Entry[SensorForm], other: Entry[SensorForm]) -> Problem:
    both = {each.path for each in one.form.channel} & {each.path for each in other.form.channel}
    if both:
        return Problem(
            "error", FARM, f"{other.where}.topic", show(other.form.topic),
            f"{one.where} claims the same value of this topic",
            "give one of them another topic or another path",
        )  # fmt: skip
    return Problem(
        "warning", FARM, f"{other.where}.topic", show(other.form.topic),
        f"{one.where} claims this topic too, with other paths",
        "nothing to do if one message carries both; else correct one topic",
    )  # fmt: skip
