"""What stands where no alarm is open: calm only where something is known."""

from monitor.model import PlaceState
from monitor.phrase import Phrase
from monitor.web.alarm_boxes import Sorted
from monitor.web.look import Look
from monitor.web.words import UNKNOWN, Standing


def calm(look: Look, shown: Sorted) -> Standing:
    """Return how the farm stands without an open alarm: not known while no place is known."""
    statuses = [look.status(each) for each in look.farm.places]
    if any(each.state is not PlaceState.UNKNOWN for each in statuses):
        if shown.aside or shown.expected:
            return Standing("plain", "", Phrase("No other alarm is open."))
        return Standing(PlaceState.IN_BAND.value, "", Phrase("No alarm is open."))
    if not statuses:
        return UNKNOWN._replace(word=Phrase("Nothing is watched: no place is named yet."))
    if all(channel.at_ms is None for each in statuses for channel in each.channels):
        return UNKNOWN._replace(word=Phrase("Nothing is heard yet: no place is known."))
    return UNKNOWN._replace(word=Phrase("Nothing is heard now: no place is known."))
