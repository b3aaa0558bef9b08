"""Why a sensor is not, or not wholly, believed, and what follows from it, in plain words."""

from monitor.alarms.doubts import short
from monitor.farm import Sensor
from monitor.model import Channel, Side
from monitor.watch.doubting import trusted
from monitor.watch.trust import Doubt, Reason
from monitor.web.look import Look


def doubt_lines(look: Look, sensor: Sensor) -> tuple[str, ...]:
    """Return a line for each quantity of a sensor that is doubted."""
    found = []
    for spec in sensor.channels:
        channel = Channel(sensor.id, spec.quantity)
        doubt = look.watch.doubts.get(channel)
        if doubt is not None and channel in look.watch.plan.channels:
            name = look.quantity(spec.quantity, sensor.place).lower()
            why = short(doubt.reason.value)
            found.append(f"Not sure of {name}: {why}. {_follows(look, channel, doubt)}")
    return tuple(found)


def _follows(look: Look, channel: Channel, doubt: Doubt) -> str:
    place = look.place(look.watch.plan.channels[channel].place)
    if doubt.reason is Reason.APART:
        return f"{place} is judged by the one nearer to harm"
    if not doubt.sides:
        return "It is judged by all the same"
    if Side.LOW not in doubt.sides:
        return "Not used for heat, for frost it is"
    beside = [
        each
        for each in look.watch.plan.places[look.watch.plan.channels[channel].place].channels
        if each.quantity is channel.quantity and each != channel and trusted(look.watch, each)
    ]
    if beside:
        return f"{place} is judged without it"
    return f"How {place} stands is not known"
