"""Cold stems in warm air: will water condense on them, and for how long?

Water settles on a surface colder than the dew point of the air around it. A stem warms
towards that air by its time constant and stops sweating as it passes the dew point. Where
that is a matter of minutes it is harmless, and nothing is said.

References
----------
Dew point: see `monitor.science.moist_air`. Warming: Newton's law of cooling. That stems
warmed after cooling get wet, and mould: Western Australia agriculture department.
"""

from dataclasses import dataclass
from typing import Final

from monitor.batches.voice import Voice, span
from monitor.phrase import Phrase
from monitor.science.moist_air import dew_point_c, vapour_pressure_pa
from monitor.science.warm_up import time_to_limit_s

HARMLESS_S: Final = 600.0
HARMLESS_K: Final = 1.0  # what a sensor's 2 to 3 % of humidity are worth of dew point
DEFAULT_LAG_S: Final = 3600.0


@dataclass(frozen=True, slots=True)
class Sweat:
    """How long stems stay under the dew point of the air they come into. [°C], [s]"""

    stems_c: float
    air_c: float
    dew_c: float
    lasts_s: float

    @property
    def harmless(self) -> bool:
        """Return whether it is too little, or too short, to speak of."""
        return self.lasts_s < HARMLESS_S or self.dew_c - self.stems_c < HARMLESS_K


def sweat(
    stems_c: float, air_c: float, humidity_pct: float, lag_s: float = DEFAULT_LAG_S
) -> Sweat | None:
    """Return how stems sweat in other air; None where they do not.

    Parameters
    ----------
    stems_c, air_c : float
        Stems now, and the air they come into, -40 to 100. [°C]
    humidity_pct : float
        Of that air, over water, 0 to 100. [%]
    lag_s : float
        Time constant of the stems, over zero; boxed stems take several times as long. [s]

    Raises
    ------
    OutOfRangeError
        If a figure lies outside.
    """
    dew_c = float(dew_point_c(vapour_pressure_pa(air_c, humidity_pct)))
    if not stems_c < dew_c:  # NaN, air too dry for a dew point, makes nothing wet either
        return None
    lasts_s = float(time_to_limit_s(stems_c, dew_c, air_c, lag_s))
    return Sweat(stems_c, air_c, dew_c, lasts_s)


def say_sweat(found: Sweat | None, place: str, voice: Voice) -> str | None:
    """Return what to know before stems are carried to a place; None where it is harmless."""
    if found is None or found.harmless:
        return None
    lasts = (
        Phrase("for about {span}", span=span(found.lasts_s))
        if found.lasts_s < 86_400  # noqa: PLR2004 - a day
        else Phrase("as long as they stay")
    )
    return Phrase(
        "Stems at {degrees} will sweat in {place} {lasts}: its air, at "
        "{air}, has its dew point at {dew}. Let them warm in open "
        "boxes, and sleeve them dry; boxed they stay wet longer.",
        degrees=voice.degrees(found.stems_c),
        place=place,
        lasts=lasts,
        air=voice.degrees(found.air_c),
        dew=voice.degrees(found.dew_c),
    )
