"""How much stems have aged since they were cut, the hour in the field with the days after.

Stems follow the air by their place's time constant. Hours that are not known count like
the known ones of the same place; the worst they may have been, at the place's harm limit, is
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
    """Days of cooler time used, at the limit's own temperature; see `enough`.

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

    @property
    def enough(self) -> bool:
        """Return whether at least half of the time is known: else no figure is told."""
        return self.known_s > 0 and self.known_s >= self.unknown_s


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


@dataclass(frozen=True, slots=True)
class _Told:
    """One spell: known and unknown time [s], days aged in each; None where no rate is known."""

    spell: Spell
    known_s: float
    outside_s: float
    days: float
    worst_rate: float

    @property
    def unknown_s(self) -> float:
        lasted_s = (self.spell.part.until_ms - self.spell.part.since_ms) / 1000
        return max(0.0, lasted_s - self.known_s - self.outside_s)

    @property
    def rate(self) -> float | None:
        return self.days / (self.known_s / DAY_S) if self.known_s > 0 else None


def _told(spell: Spell, stems: Samples, q10: Q10, limit: Limit) -> _Told:
    found = aged(stems, q10, limit.at_c)
    worst_c = min(max(spell.worst_c, LEAST_C), GREATEST_C)
    return _Told(
        spell, found.known_s - found.outside_s, found.outside_s, found.equivalent_days,
        float(ageing_rate(worst_c, q10, limit.at_c)),
    )  # fmt: skip


def age(spells: Sequence[Spell], q10: Q10, limit: Limit) -> Aged:
    """Return what stems have aged through their spells, in order of time."""
    stems = stems_air(spells)
    told = [_told(spell, each, q10, limit) for spell, each in zip(spells, stems, strict=True)]
    known_s = sum(each.known_s for each in told)
    days = sum(each.days for each in told)
    overall = days / (known_s / DAY_S) if known_s > 0 else 1.0
    gaps = [(each.unknown_s / DAY_S, each.rate or overall, each.worst_rate) for each in told]
    field = [each for each in told if each.spell.field]
    peaks = [float(np.max(a)) for each in field if len(a := each.spell.part.air.value)]
    return Aged(
        days=days + sum(lasted * rate for lasted, rate, _ in gaps),
        worst_days=days + sum(lasted * max(rate, worst) for lasted, rate, worst in gaps),
        known_s=known_s,
        unknown_s=sum(each.unknown_s for each in told),
        outside_s=sum(each.outside_s for each in told),
        field_days=sum(
            each.days + each.unknown_s / DAY_S * (each.rate or overall) for each in field
        ),
        field_s=sum((s.part.until_ms - s.part.since_ms) / 1000 for s in spells if s.field),
        field_peak_c=max(peaks, default=None),
        now_c=next((float(each.value[-1]) for each in reversed(stems) if len(each.value)), None),
    )
