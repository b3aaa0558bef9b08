"""How a changed limit is told, in the farm's units."""

from monitor.alarms.saying import say_span, say_value
from monitor.farm import Farm, format_when
from monitor.farm.altering import Altered, Limit


def say_altered(farm: Farm, change: Altered) -> str:
    """Return when which limit was changed, from what to what, and by whom."""
    limit = change.limit
    of = limit.quantity or limit.of
    name = limit.name if of is None else f"{of.value.replace('_', ' ')} {limit.name}"
    before, after = (_said(farm, limit, each) for each in (change.before, change.after))
    when = format_when(change.at_ms, farm.zone)
    return f"{when}  {limit.subject}: {name}, from {before} to {after} ({change.by})"


def _said(farm: Farm, limit: Limit, value: float | None) -> str:
    if value is None:
        return "none"
    if limit.quantity is None:
        return say_span(value)
    return say_value(value, limit.quantity, farm.units)
