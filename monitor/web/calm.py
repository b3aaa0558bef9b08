"""What stands where no alarm is open: calm only where something is known."""

from monitor.model import PlaceState
from monitor.phrase import Phrase
from monitor.web.alarm_boxes import Sorted
from monitor.web.look import Look
from monitor.web.words import UNKNOWN, Standing


def calm(look: Look, shown: Sorted) -> Standing:
    """Return how the farm stands without an open alarm: not known while no place is known."""
    places = look.farm.places
    if any(look.status(each).state is not PlaceState.UNKNOWN for each in places):
        if shown.aside or shown.expected:
            return Standing("plain", "", Phrase("No other alarm is open."))
        return Standing(PlaceState.IN_BAND.value, "", Phrase("No alarm is open."))
    if not places:
        return UNKNOWN._replace(word=Phrase("Nothing is watched: no place is named yet."))
    if all(c.at_ms is None for each in places for c in look.status(each).channels):
        return UNKNOWN._replace(word=Phrase("Nothing is heard yet: no place is known."))
    return UNKNOWN._replace(word=Phrase("Nothing is heard now: no place is known."))
