"""JSON objects, flat or nested: each channel's value by its path."""

from typing import Any, Final

from monitor.errors import PayloadError
from monitor.intake.device_time import credible, device_time_ms
from monitor.intake.plan import ChannelPlan, SensorPlan
from monitor.intake.reasons import Reason, shown
from monitor.intake.sorting import Sorter
from monitor.intake.tree import ABSENT, dig
from monitor.intake.value import TEMPERATURES, label_unit
from monitor.model import Flag

_NONE: Final = Flag.NONE
_LABEL_KEYS: Final = ("unit", "units", "u", "uom")


def read_object(tree: Any, plans: tuple[SensorPlan, ...], sorter: Sorter) -> None:  # noqa: ANN401 - JSON is of any kind
    """Take each declared channel's value; one bad value spoils no other.

    Raises
    ------
    PayloadError
        If no declared path leads to anything.
    """
    found = 0
    for plan in plans:
        found += _read_sensor(tree, plan, sorter)
    if not found:
        paths = ", ".join(channel.key for plan in plans for channel in plan.by_path)
        raise PayloadError(Reason.NO_CHANNEL, f"nothing at {shown(paths or 'any path')}")


def _read_sensor(tree: Any, plan: SensorPlan, sorter: Sorter) -> int:  # noqa: ANN401
    device_ms, flags = _time(tree, plan, sorter.received_ms)
    plain = isinstance(tree, dict)
    labelled = not (plain and tree.keys() <= plan.expected)
    found = 0
    for channel in plan.by_path:
        value = tree.get(channel.key, ABSENT) if plain else ABSENT
        holder = tree
        if value is ABSENT:
            holder = dig(tree, channel.steps[:-1])
            value = dig(holder, channel.steps[-1:])
            if value is ABSENT:
                continue
        found += 1
        label = _label(holder, channel, plan) if labelled else None
        if label is None and channel.fits(value):
            sorter.take(channel, value, device_ms, flags)
        else:
            sorter.read(channel, value, device_ms, flags, label=label)
    return found


def _time(tree: Any, plan: SensorPlan, received_ms: int) -> tuple[int | None, Flag]:  # noqa: ANN401
    """Return the sensor's own time [ms] where it has one that can be believed."""
    value: Any = None
    if plan.time_steps is not None:
        value = dig(tree, plan.time_steps)
    elif isinstance(tree, dict):
        for key in plan.time_keys:
            if key in tree:
                value = tree[key]
                break
    if value is None or value is ABSENT:
        return None, _NONE
    at_ms = device_time_ms(value)
    if at_ms is None or not credible(at_ms, received_ms):
        return None, Flag.TIME_REFUSED
    return at_ms, _NONE


def _label(holder: Any, channel: ChannelPlan, plan: SensorPlan) -> str | None:  # noqa: ANN401
    """Return the unit named beside a value, if one is.

    ``t_unit`` beside ``t`` is that value's own; a general ``unit`` speaks of the
    temperature, or of the one channel the sensor has.
    """
    if not isinstance(holder, dict):
        return None
    own = holder.get(f"{channel.steps[-1]}_unit")
    if isinstance(own, str):
        return own
    for key in _LABEL_KEYS:
        label = holder.get(key)
        if isinstance(label, str) and channel.steps[-1] != key:
            general = label_unit(label) in {"C", "F", "K"} and channel.quantity in TEMPERATURES
            return label if general or plan.only is channel else None
    return None
