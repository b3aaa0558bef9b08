"""How a changed limit is told, in the farm's units."""

from monitor.alarms.saying import say_span, say_value
from monitor.farm import Farm, format_when
from monitor.farm.altering import Altered, Limit
from monitor.phrase import Phrase


def say_altered(farm: Farm, change: Altered) -> str:
    """Return when which limit was changed, from what to what, and by whom."""
    limit = change.limit
    of = limit.quantity or limit.of
    name = (
        limit.name
        if of is None
        else Phrase("{of} {name}", of=of.value.replace("_", " "), name=limit.name)
    )
    before, after = (_said(farm, limit, each) for each in (change.before, change.after))
    when = format_when(change.at_ms, farm.zone)
    return Phrase(
        "{when}  {subject}: {name}, from {before} to {after} ({by})",
        when=when,
        subject=limit.subject,
        name=name,
        before=before,
        after=after,
        by=change.by,
    )


def _said(farm: Farm, limit: Limit, value: float | None) -> str:
    if value is None:
        return Phrase("none")
    if limit.quantity is None:
        return say_span(value)
    return say_value(value, limit.quantity, farm.units)
