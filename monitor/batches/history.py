"""What a batch has lived through, stage by stage, across its places.

Everything is counted over the time whose conditions are known; what is not known is
said as coverage and never filled in. Ideal limits make *drift*, harm limits *harm*; both
are judged by the bands that were in force then.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from monitor.batches.combining import Course, Disagreement, SensorSeries, combine
from monitor.batches.outside import TimeOut, times_out, used_up_ms
from monitor.batches.pieces import Piece, Version, pieces
from monitor.errors import OutOfRangeError
from monitor.model import Batch, Quantity, Side
from monitor.science.exposure import band_exposure, degree_hours, extremes
from monitor.science.series import integral

Series = Mapping[str, Sequence[SensorSeries]]  # by place

LEADING: Final = Quantity.TEMPERATURE
_JUDGED: Final = (Quantity.TEMPERATURE, Quantity.HUMIDITY, Quantity.SOIL_TEMPERATURE)


@dataclass(frozen=True, slots=True)
class QuantityHistory:
    """One quantity through one stage.

    ``in_band_s`` is None where the stage has no ideal band; ``mean``, ``low`` and
    ``high`` are None where nothing is known. ``degree_hours`` is the area outside the
    ideal band [unit of the value times h]. ``used_up_ms`` is when a harm limit's whole
    tolerated time was used up in one place.
    """

    quantity: Quantity
    sensors: tuple[str, ...]
    length_s: float
    known_s: float
    in_band_s: float | None
    mean: float | None
    low: float | None
    high: float | None
    degree_hours: float
    excursions: tuple[TimeOut, ...]
    used_up_ms: int | None
    disagreement: Disagreement | None

    @property
    def coverage(self) -> float:
        """Return the share of the stage whose value is known, 0 to 1."""
        return min(1.0, self.known_s / self.length_s) if self.length_s > 0 else 0.0

    @property
    def in_band_share(self) -> float | None:
        """Return the share of the known time inside the ideal band, 0 to 1."""
        if self.in_band_s is None or self.known_s <= 0:
            return None
        return min(1.0, self.in_band_s / self.known_s)


@dataclass(frozen=True, slots=True)
class StageHistory:
    """One stage of a batch, all its stays together.

    ``thermal_time_cd`` is the air's known thermal time over the base [°C d], None where
    nothing is known. ``unmeasured`` names the places without any sample of the air.
    """

    stage: str
    since_ms: int
    until_ms: int
    length_s: float
    places: tuple[str, ...]
    quantities: Mapping[Quantity, QuantityHistory]
    thermal_time_cd: float | None
    unmeasured: tuple[str, ...]

    @property
    def coverage(self) -> float:
        """Return the share of the stage whose air temperature is known, 0 to 1."""
        return self.quantities[LEADING].coverage if LEADING in self.quantities else 0.0

    @property
    def in_band_share(self) -> float | None:
        """Return the share of the known time with the air in its ideal band, 0 to 1."""
        return self.quantities[LEADING].in_band_share if LEADING in self.quantities else None

    @property
    def excursions(self) -> list[TimeOut]:
        """Return the times out of every quantity, in order of time."""
        every = [out for each in self.quantities.values() for out in each.excursions]
        return sorted(every, key=lambda out: (out.from_ms, out.quantity, out.depth))


@dataclass(frozen=True, slots=True)
class History:
    """A batch's life up to a time, its stages in the order they were first met."""

    batch: int
    until_ms: int
    stages: tuple[StageHistory, ...]


def history(
    batch: Batch,
    series: Series,
    versions: Sequence[Version],
    until_ms: int,
    *,
    base_c: float = 0.0,
) -> History:
    """Return what a batch has lived through.

    Parameters
    ----------
    batch : Batch
        As its entries tell.
    series : mapping of str to sequence of SensorSeries
        Calibrated samples by place, each from a little before to a little after the
        batch's stays there.
    versions : sequence of Version
        The bands of its crop's stages as they were accepted, in order of time.
    until_ms : int
        Now. [ms]
    base_c : float
        Base of thermal time. [°C]

    Returns
    -------
    History
        Late, corrected or recalibrated samples give another one: nothing is remembered.

    Raises
    ------
    OutOfRangeError
        If ``base_c`` is not a finite figure.
    """
    if not np.isfinite(base_c):
        raise OutOfRangeError(f"the base of thermal time is {base_c}: give a temperature")
    by_stage: dict[str, list[Piece]] = defaultdict(list)
    for piece in pieces(batch, versions, until_ms):
        by_stage[piece.stage].append(piece)
    stages = tuple(_stage(stage, parts, series, base_c) for stage, parts in by_stage.items())
    return History(batch.id, until_ms, stages)


def _stage(stage: str, parts: Sequence[Piece], series: Series, base_c: float) -> StageHistory:
    met = [(part, _courses(part, series)) for part in parts]
    told = {
        quantity: _quantity(quantity, [(part, courses[quantity]) for part, courses in met])
        for quantity in _JUDGED
        if any(courses[quantity].sensors or quantity in part.bands for part, courses in met)
    }
    silent = [part.place for part, courses in met if not courses[LEADING].sensors]
    return StageHistory(
        stage=stage,
        since_ms=parts[0].since_ms,
        until_ms=parts[-1].until_ms,
        length_s=sum(_length_s(part) for part in parts),
        places=tuple(dict.fromkeys(part.place for part in parts)),
        quantities=told,
        thermal_time_cd=_thermal_time_cd([courses[LEADING] for _, courses in met], base_c),
        unmeasured=tuple(dict.fromkeys(silent)),
    )


def _length_s(part: Piece) -> float:
    return (part.until_ms - part.since_ms) / 1000


def _courses(part: Piece, series: Series) -> dict[Quantity, Course]:
    here = series.get(part.place, ())
    return {
        quantity: combine(
            [each for each in here if each.quantity is quantity], part.since_ms, part.until_ms
        )
        for quantity in _JUDGED
    }


def _quantity(quantity: Quantity, met: Sequence[tuple[Piece, Course]]) -> QuantityHistory:
    ideal = [
        band_exposure(course.samples, band.ideal.low, band.ideal.high)
        for part, course in met
        if (band := part.bands.get(quantity)) is not None and band.ideal is not None
    ]
    outs = times_out(quantity, met)
    known_s = sum(course.samples.known_s for _, course in met)
    area = sum(integral(course.samples) for _, course in met)
    ends = [found for _, course in met if (found := extremes(course.samples)) is not None]
    return QuantityHistory(
        quantity=quantity,
        sensors=tuple(dict.fromkeys(name for _, course in met for name in course.sensors)),
        length_s=sum(_length_s(part) for part, _ in met),
        known_s=known_s,
        in_band_s=sum(each.inside_s for each in ideal) if ideal else None,
        mean=area / known_s if known_s > 0 else None,
        low=min((each.low for each in ends), default=None),
        high=max((each.high for each in ends), default=None),
        degree_hours=sum(each.below_degree_hours + each.above_degree_hours for each in ideal),
        excursions=tuple(outs),
        used_up_ms=used_up_ms(outs, _allowed(quantity, met)),
        disagreement=_worst([course.disagreement for _, course in met]),
    )


def _allowed(quantity: Quantity, met: Sequence[tuple[Piece, Course]]) -> list[tuple[str, float]]:
    """Return each place's whole tolerated time, where the band sets one. [s]"""
    return [
        (part.place, band.harm.cumulative_s)
        for part, _ in met
        if (band := part.bands.get(quantity)) is not None
        and band.harm is not None
        and band.harm.cumulative_s is not None
    ]


def _worst(found: Sequence[Disagreement | None]) -> Disagreement | None:
    """Return the disagreement of the piece where the sensors lay furthest apart."""
    told = [each for each in found if each is not None]
    return max(told, key=lambda each: each.largest) if told else None


def _thermal_time_cd(courses: Sequence[Course], base_c: float) -> float | None:
    """Return the area over the base. [°C d]"""
    if not any(course.samples.known_s > 0 for course in courses):
        return None
    return sum(degree_hours(course.samples, Side.HIGH, base_c) for course in courses) / 24
