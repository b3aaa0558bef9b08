"""Topic filters that never overlap: an overlap may bring a message twice.

References
----------
MQTT 5.0, sections 4.7.1 (wildcards), 4.7.2 (topics beginning with ``$``) and 3.3.4.
"""

from collections.abc import Iterable

from monitor.intake.declared import SensorLike


def _levels(topic: str) -> list[str]:
    return topic.split("/")


def _system(levels: list[str]) -> bool:
    return levels[0].startswith("$")


def _meet(one: list[str], other: list[str]) -> bool:
    """Return whether some topic matches both filters."""
    if _system(one) != _system(other):
        return False
    for index in range(max(len(one), len(other))):
        first = one[index] if index < len(one) else None
        second = other[index] if index < len(other) else None
        if "#" in {first, second}:
            return True
        if first is None or second is None or (first != second and "+" not in {first, second}):
            return False
    return True


def covers(wide: str, narrow: str) -> bool:
    """Return whether each topic that matches ``narrow`` matches ``wide`` too."""
    one, other = _levels(wide), _levels(narrow)
    if _system(one) != _system(other):
        return False
    for index, level in enumerate(one):
        if level == "#":
            return True
        if index >= len(other) or other[index] == "#":
            return False
        if level not in {"+", other[index]}:
            return False
    return len(one) == len(other)


def _joined(one: list[str], other: list[str]) -> list[str]:
    """Return the narrowest filter that covers both."""
    joined: list[str] = []
    for index in range(max(len(one), len(other))):
        first = one[index] if index < len(one) else "#"
        second = other[index] if index < len(other) else "#"
        if "#" in {first, second}:
            return [*joined, "#"]
        joined.append(first if first == second else "+")
    return joined


def subscriptions(listen: Iterable[str], sensors: Iterable[SensorLike]) -> list[str]:
    """Return the filters to subscribe to, none of which meets another.

    Parameters
    ----------
    listen : Iterable of str
        Filters the farm listens to; ``#`` is all but topics that begin with ``$``.
    sensors : Iterable of SensorLike
        The declared sensors: a topic under no such filter is added by itself.

    Returns
    -------
    list of str
        Two filters that meet are replaced by the narrowest one that covers both.
    """
    kept: list[list[str]] = []
    for wanted in [*listen, *(sensor.topic for sensor in sensors)]:
        levels = _levels(wanted)
        while (met := next((other for other in kept if _meet(levels, other)), None)) is not None:
            kept.remove(met)
            levels = _joined(levels, met)
        kept.append(levels)
    return sorted("/".join(levels) for levels in kept)
