"""How much stems have aged since they were cut, the hour in the field with the days after.

Stems follow the air by their place's time constant. Hours that are not known count like
the mean of the known ones; the worst they may have been, at the place's harm limit, is
told beside it and matters only where it could change an answer.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from monitor.batches.thermal_clock import Part
from monitor.science.lag import follow
from monitor.science.series import Samples, clip
from monitor.science.storage_life import (
    GREATEST_C,
    LEAST_C,
    Q10,
    Limit,
    aged,
    ageing_rate,
)

DAY_S: Final = 86_400.0
BORROWED_RANGE: Final = (2.5, 4.0)  # USDA Agriculture Handbook 66, 0 to 10 °C


@dataclass(frozen=True, slots=True)
class Spell:
    """A part of the stems' life: where, its air, its time constant, its worst air.

    ``field`` marks the time between cutting and the first recorded place.
    """

    place: str
    part: Part
    lag_s: float
    worst_c: float
    field: bool = False


@dataclass(frozen=True, slots=True)
class Aged:
    """Days of cooler time used, at the limit's own temperature.

    ``field_days`` is what the spell before the cooler took of ``days``; ``field_peak_c``
    its warmest known air, ``field_s`` its length. ``unknown_s`` counts like the rest in
    ``days`` and at its worst in ``worst_days``. ``outside_s`` lay outside the model.
    """

    days: float
    worst_days: float
    known_s: float
    unknown_s: float
    outside_s: float
    field_days: float
    field_s: float
    field_peak_c: float | None
    now_c: float | None


def stems_air(spells: Sequence[Spell]) -> list[Samples]:
    """Return the stems' own temperature through each spell. [°C]"""
    found: list[Samples] = []
    last_c: float | None = None
    for spell in spells:
        air = clip(spell.part.air, spell.part.since_ms, spell.part.until_ms)
        if spell.lag_s > 0 and len(air.at_ms):
            contents = follow(air, spell.lag_s, last_c).value_c
            air = Samples(air.at_ms, contents, air.allowed_gap_s)
        last_c = float(air.value[-1]) if len(air.value) else last_c
        found.append(air)
    return found


def age(spells: Sequence[Spell], q10: Q10, limit: Limit) -> Aged:
    """Return what stems have aged through their spells, in order of time."""
    stems = stems_air(spells)
    told = [aged(each, q10, limit.at_c) for each in stems]
    lengths_s = [(each.part.until_ms - each.part.since_ms) / 1000 for each in spells]
    unknown_s = [
        max(0.0, length - each.known_s) for length, each in zip(lengths_s, told, strict=True)
    ]
    known_s = sum(each.known_s - each.outside_s for each in told)
    known_days = sum(each.equivalent_days for each in told)
    rate = known_days / (known_s / DAY_S) if known_s > 0 else 1.0
    worst = [
        float(ageing_rate(min(max(each.worst_c, LEAST_C), GREATEST_C), q10, limit.at_c))
        for each in spells
    ]
    gaps = zip(unknown_s, worst, strict=True)
    field = [n for n, each in enumerate(spells) if each.field]
    return Aged(
        days=known_days + rate * sum(unknown_s) / DAY_S,
        worst_days=known_days + sum(s * max(w, rate) for s, w in gaps) / DAY_S,
        known_s=known_s,
        unknown_s=sum(unknown_s),
        outside_s=sum(each.outside_s for each in told),
        field_days=sum(told[n].equivalent_days for n in field),
        field_s=sum(lengths_s[n] for n in field),
        field_peak_c=max(
            (
                float(np.max(spells[n].part.air.value))
                for n in field
                if len(spells[n].part.air.value)
            ),
            default=None,
        ),
        now_c=next((float(each.value[-1]) for each in reversed(stems) if len(each.value)), None),
    )
