"""What tonight's air may fall to in one place, and the chance of it passing a limit there.

Where the evening lies outside the model, or humidity is missing, that is named; nothing
but a forecast low that the grower typed in can then speak, and it is told as such.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from math import erf, exp, pi, sqrt
from typing import Final

import numpy as np

from monitor.batches.site import COVERS
from monitor.farm import Crop, Place
from monitor.model import Batch, PlaceKind, Quantity
from monitor.science import frost
from monitor.science.frost_outlook import (
    FORECAST_SD_K,
    SWITCH_NIGHTS,
    UNSEEN_SD_K,
    Basis,
    at_dusk,
    learn,
    outlook,
)
from monitor.science.frost_prior import EARLIEST_H, LATEST_H, evening
from monitor.science.sun import Night
from monitor.watch.nights import HOUR_MS, PastNights, Where, night_of, season_day

OUTDOOR: Final = (PlaceKind.TUNNEL, PlaceKind.FIELD)
FRESH_MS: Final = 45 * 60_000

# Share of the fall from now to the minimum that has been made two hours after sunset, by
# the hour of now: medians of 9,178 measured evenings, those of the pooled prior, from two
# hours before sunset on; carried on before that.
_SHARE_H: Final = (-4.0, -2.0, -1.5, -1.0, -0.5, 0.0, 0.5, 1.0, 1.5, 2.0)
_SHARE: Final = (0.65, 0.49, 0.44, 0.39, 0.32, 0.27, 0.20, 0.12, 0.06, 0.0)


class Lack(StrEnum):
    """Why the model says nothing, or what it lacks."""

    NO_AIR = "no_air"
    AIR_OLD = "air_old"
    NO_HUMIDITY = "no_humidity"
    HUMIDITY_OLD = "humidity_old"
    TOO_EARLY = "too_early"
    OUTSIDE = "outside"
    NO_NIGHT = "no_night"


@dataclass(frozen=True, slots=True)
class Typed:
    """A forecast low that someone typed in. [°C], [ms]"""

    low_c: float
    by: str
    at_ms: int


@dataclass(frozen=True, slots=True)
class Now:
    """The evening at one place; NaN where unknown. [°C], [K], [ms]

    ``dusk_c`` is the air two hours after sunset, once that has been.
    """

    at_ms: int
    air_c: float
    dew_c: float
    air_fall_k: float = float("nan")
    dew_fall_k: float = float("nan")
    dusk_c: float = float("nan")


@dataclass(frozen=True, slots=True)
class Limit:
    """The limit that matters in a place tonight [°C]; ``stage`` is "" for the place's own."""

    limit_c: float
    stage: str = ""
    batches: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Tonight:
    """The outlook of one night at one place. [°C], [K], [ms]

    ``least_c`` and ``sd_k`` are None where nothing can be said. ``own_nights`` count;
    ``basis`` is None where the typed forecast alone speaks. ``passes_ms`` is when the
    limit is most likely passed, if it is.
    """

    place: str
    day: date
    night: Night | None
    lack: Lack | None = None
    at_ms: int | None = None
    least_c: float | None = None
    sd_k: float | None = None
    basis: Basis | None = None
    own_nights: int = 0
    earned: bool = False
    typed: Typed | None = None
    limit: Limit | None = None
    passes_ms: int | None = None
    cover: str | None = None
    holds: bool = False

    def chance_under(self, limit_c: float) -> float | None:
        """Return the chance, 0 to 1, of a limit [°C] or less; None where nothing is said."""
        if self.least_c is None or self.sd_k is None:
            return None
        return _normal((limit_c - self.least_c) / self.sd_k)

    @property
    def chance(self) -> float | None:
        """Return the chance of the limit that matters there, 0 to 1."""
        return None if self.limit is None else self.chance_under(self.limit.limit_c)

    @property
    def chance_covered(self) -> float | None:
        """Return the chance under the cover the place has; None where it has none."""
        held_k = COVERS.get(self.cover or "", 0.0)
        if self.limit is None or not held_k:
            return None
        return self.chance_under(self.limit.limit_c - held_k)


def limit_of(place: Place, batches: Sequence[Batch], crops: Mapping[str, Crop]) -> Limit | None:
    """Return the highest harm limit below which something there is hurt.

    Each batch counts with its stage's limit, else with the place's; without batches the
    place's own stands.
    """
    band = place.bands.get(Quantity.TEMPERATURE)
    own_c = band.harm.low if band and band.harm else None
    found: list[Limit] = []
    for batch in batches:
        crop, stay = crops.get(batch.crop), batch.stay
        stage = crop.stages.get(stay.stage) if crop and stay else None
        limits = stage.bands.get(Quantity.TEMPERATURE) if stage else None
        limit_c = limits.harm.low if limits and limits.harm else None
        if stage is not None and limit_c is not None:
            found.append(Limit(limit_c, stage.name, (batch.id,)))
        elif own_c is not None:
            found.append(Limit(own_c, "", (batch.id,)))
    if not found:
        return None if own_c is None else Limit(own_c)
    highest = max(found, key=lambda each: each.limit_c)
    same = [each for each in found if each.limit_c == highest.limit_c]
    return Limit(highest.limit_c, highest.stage, tuple(n for each in same for n in each.batches))


def asked_at(night: Night, newest_ms: int) -> int:
    """Return the moment the outlook is taken at: the newest known, six hours in at most. [ms]"""
    return min(newest_ms, night.set_ms + round(LATEST_H * HOUR_MS))


def tonight(
    blank: Tonight, now: Now | Lack, past: PastNights, where: Where, *, under_cover: bool
) -> Tonight:
    """Return the outlook of one place.

    Parameters
    ----------
    blank : Tonight
        With the night, the limit and a typed forecast; no figures yet.
    now : Now or Lack
        The evening so far, or why it is not known.
    past : PastNights
        The place's own nights, their evenings taken at the hour of ``now``.
    where : Where
        Of the farm.
    under_cover : bool
        Whether the place is a tunnel.
    """
    night = blank.night
    if night is None:
        return _typed_alone(blank, Lack.NO_NIGHT, under_cover=under_cover)
    if isinstance(now, Lack):
        return _typed_alone(blank, now, under_cover=under_cover)
    hours = (now.at_ms - night.set_ms) / HOUR_MS
    if hours < EARLIEST_H:
        return _typed_alone(blank, Lack.TOO_EARLY, under_cover=under_cover)
    at = evening(
        now.air_c, now.dew_c, after_sunset_h=hours, year_day=season_day(blank.day, where),
        falls_k=(now.air_fall_k, now.dew_fall_k),
    )  # fmt: skip
    learned = learn(past.evening, past.least_c)
    found = outlook(
        at, learned, blank.typed.low_c if blank.typed else None, _typed_sd_k(under_cover),
        under_cover=under_cover,
    )  # fmt: skip
    if found is None:
        return _typed_alone(blank, Lack.OUTSIDE, under_cover=under_cover)
    earned = learned.own is not None and bool(at_dusk(at)[0])
    return _with(
        blank, now, hours, least_c=found.least_c, sd_k=found.sd_k, basis=found.basis,
        own_nights=learned.nights, earned=earned,
    )  # fmt: skip


def _with(  # noqa: PLR0917  # the parts of one outlook
    blank: Tonight, now: Now | None, hours: float, least_c: float, sd_k: float,
    basis: Basis | None, own_nights: int, *, earned: bool, lack: Lack | None = None,
) -> Tonight:  # fmt: skip
    passes_ms = None
    if now is not None and blank.night is not None and blank.limit is not None:
        passes_ms = _passes_ms(blank.night, now, hours, (least_c, sd_k), blank.limit.limit_c)
    return Tonight(
        blank.place, blank.day, blank.night, lack, None if now is None else now.at_ms, least_c,
        sd_k, basis, own_nights, earned, blank.typed, blank.limit, passes_ms, blank.cover,
        blank.holds,
    )  # fmt: skip


def _typed_sd_k(under_cover: bool) -> float:
    return sqrt(FORECAST_SD_K**2 + UNSEEN_SD_K**2) if under_cover else FORECAST_SD_K


def _typed_alone(blank: Tonight, lack: Lack, *, under_cover: bool) -> Tonight:
    if blank.typed is None:
        return Tonight(
            blank.place, blank.day, blank.night, lack, limit=blank.limit, cover=blank.cover,
            holds=blank.holds,
        )  # fmt: skip
    return _with(
        blank, None, 0.0, least_c=blank.typed.low_c, sd_k=_typed_sd_k(under_cover), basis=None,
        own_nights=0, earned=False, lack=lack,
    )  # fmt: skip


def _normal(z: float) -> float:
    return 0.5 * (1.0 + erf(z / sqrt(2.0)))


def least_if_under(limit_c: float, least_c: float, sd_k: float) -> float:
    """Return the mean of the minima at or under a limit, of a normal spread. [°C]

    References
    ----------
    Mean of a normal distribution cut off above: m - s phi(z) / Phi(z) (Johnson, Kotz &
    Balakrishnan, Continuous Univariate Distributions, ch. 13; from memory).
    """
    z = (limit_c - least_c) / sd_k
    below = _normal(z)
    if below < 1e-6:  # noqa: PLR2004 - so far off, the limit itself is the likeliest
        return limit_c
    return least_c - sd_k * exp(-0.5 * z * z) / sqrt(2.0 * pi) / below


def _passes_ms(
    night: Night, now: Now, hours: float, told: tuple[float, float], limit_c: float
) -> int | None:
    """Return about when the limit is passed if the night passes it, by the night's course."""
    low_c = min(least_if_under(limit_c, *told), limit_c)
    start_c = now.dusk_c
    if np.isnan(start_c):
        start_c = now.air_c - float(np.interp(hours, _SHARE_H, _SHARE)) * (now.air_c - low_c)
    if not low_c < start_c or night.hours < 2.5:  # noqa: PLR2004 - as the course takes it
        return None
    after_h = frost.hours_to_limit(limit_c, start_c, low_c, min(night.hours, 24.0))
    return night.set_ms + round(after_h * HOUR_MS) if np.isfinite(after_h) else night.rise_ms


def blank_of(  # noqa: PLR0917  # all that is known without a reading
    place: Place, day: date, where: Where, typed: Typed | None, limit: Limit | None,
    cover: str | None, *, holds: bool,
) -> Tonight:  # fmt: skip
    """Return tonight before anything is known of its air."""
    return Tonight(
        place.id, day, night_of(day, where), typed=typed, limit=limit, cover=cover, holds=holds
    )


OWN_FROM: Final = SWITCH_NIGHTS
