"""Why a sensor is not, or not wholly, believed, and what follows from it, in plain words."""

from monitor.alarms.doubts import short
from monitor.farm import Sensor
from monitor.model import Channel, Side
from monitor.phrase import Phrase
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
            found.append(
                Phrase(
                    "Not sure of {name}: {why}. {follows}",
                    name=name,
                    why=why,
                    follows=_follows(look, channel, doubt),
                )
            )
    return tuple(found)


def _follows(look: Look, channel: Channel, doubt: Doubt) -> str:
    place = look.place(look.watch.plan.channels[channel].place)
    if doubt.reason is Reason.APART:
        return Phrase("{place} is judged by the one nearer to harm", place=place)
    if not doubt.sides:
        return Phrase("It is judged by all the same")
    if Side.LOW not in doubt.sides:
        return Phrase("Not used for heat, for frost it is")
    beside = [
        each
        for each in look.watch.plan.places[look.watch.plan.channels[channel].place].channels
        if each.quantity is channel.quantity and each != channel and trusted(look.watch, each)
    ]
    if beside:
        return Phrase("{place} is judged without it", place=place)
    return Phrase("How {place} stands is not known", place=place)
