"""From a transition to its words."""

from collections.abc import Mapping
from typing import Final

from monitor.alarms import darkness, doubts, limits, others, placed, tired, unheard
from monitor.alarms.others import Say
from monitor.alarms.wording import Wording, Words
from monitor.model import AlarmKind, Edge, Transition
from monitor.phrase import Phrase

_LIMITS: Final = (
    AlarmKind.TOO_WARM, AlarmKind.TOO_COLD, AlarmKind.TOO_DRY, AlarmKind.TOO_WET,
)  # fmt: skip
_RAISED: Final[Mapping[AlarmKind, Say]] = dict.fromkeys(AlarmKind, others.own_raised) | {
    **dict.fromkeys(_LIMITS, limits.raised),
    AlarmKind.SENSOR_SILENT: others.silent,
    AlarmKind.SENSORS_DARK: darkness.sensors_dark,
    AlarmKind.STAGE_ENDING: others.ending,
    AlarmKind.SENSOR_DOUBTFUL: doubts.doubtful,
    AlarmKind.BATTERY_LOW: doubts.battery,
    AlarmKind.WRONG_PLACE: placed.misplaced,
    AlarmKind.WORKING_HARDER: tired.harder,
    AlarmKind.FARM_DARK: unheard.raised,
}
_RETURNED: Final[Mapping[AlarmKind, Say]] = dict.fromkeys(AlarmKind, others.own_returned) | {
    **dict.fromkeys(_LIMITS, limits.returned),
    AlarmKind.SENSOR_SILENT: others.heard,
    AlarmKind.SENSOR_DOUBTFUL: doubts.believed,
    AlarmKind.STAGE_ENDING: others.moved_on,
    AlarmKind.WRONG_PLACE: placed.moved_away,
    AlarmKind.FARM_DARK: unheard.returned,
}


def say(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Return title and text of what became true, or false again."""
    kind = transition.key.kind
    if transition.edge is Edge.RAISE:
        told = _RAISED[kind](transition, words, now_ms)
        return Words(
            told.title,
            Phrase("{text}{phones}", text=told.text, phones=words.phones(transition.place)),
        )
    if transition.facts.get("gone") and kind is not AlarmKind.STAGE_ENDING:
        return others.gone(transition, words, now_ms)
    return _RETURNED[kind](transition, words, now_ms)
