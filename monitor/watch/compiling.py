"""From the farm's files and the open batches to the lines of each channel."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf
from typing import Final

from monitor.farm import Farm, Place, Sensor
from monitor.model import AlarmKind, Band, Batch, Channel, Harm, PlaceKind, Quantity, Side, Stage
from monitor.model.batch import Loading
from monitor.watch.misplaced import misplaced
from monitor.watch.plan import (
    JUDGED,
    KIND_OF,
    Ahead,
    ChannelPlan,
    Due,
    Line,
    LineKey,
    PlacePlan,
    SensorPlan,
    WatchPlan,
)


@dataclass(frozen=True, slots=True)
class _Guest:
    """An open batch with the stage it is at."""

    batch: Batch
    stage: Stage | None
    place: str
    since_ms: int


def plan(farm: Farm, batches: Sequence[Batch], loadings: Sequence[Loading] = ()) -> WatchPlan:
    """Compile what is to be judged, from what the grower declared and recorded."""
    guests = list(_guests(farm, batches))
    channels = {
        each.channel: each
        for sensor in farm.sensors.values()
        for each in _channels(farm, sensor, guests, loadings)
    }
    return WatchPlan(
        places={p.id: _place(p, channels, guests, loadings) for p in farm.places.values()},
        channels=channels,
        sensors={each.id: _sensor(each) for each in farm.sensors.values()},
        dues=tuple(_dues(guests)),
        misplaced=tuple(misplaced(farm, batches)),
    )


def _guests(farm: Farm, batches: Sequence[Batch]) -> Iterator[_Guest]:
    for batch in batches:
        if (stay := batch.stay) is not None:
            crop = farm.crops.get(batch.crop)
            stage = crop.stages.get(stay.stage) if crop else None
            yield _Guest(batch, stage, stay.place, stay.since_ms)


def _held(place: str, loadings: Sequence[Loading]) -> tuple[tuple[int, int], ...]:
    """Return when a place was, is and will be loaded: from, until. [ms]"""
    return tuple((each.from_ms, each.until_ms) for each in loadings if each.place == place)


def _place(
    place: Place, channels: Mapping[Channel, ChannelPlan], guests: Sequence[_Guest],
    loadings: Sequence[Loading],
) -> PlacePlan:  # fmt: skip
    here = [each for each in channels.values() if each.place == place.id]
    tops = (
        line.limit
        for each in here
        for line in each.lines
        if line.kind is AlarmKind.TOO_WARM and each.channel.quantity is Quantity.TEMPERATURE
    )
    return PlacePlan(
        id=place.id,
        kind=place.kind,
        channels=tuple(each.channel for each in here),
        batches=tuple(g.batch.id for g in guests if g.place == place.id),
        lag_ms=_ms(place.lag_s),
        top_c=min(tops, default=None),
        held=any(g.batch.held_for is not None for g in guests if g.place == place.id),
        loadings=_held(place.id, loadings),
    )


def _sensor(sensor: Sensor) -> SensorPlan:
    return SensorPlan(
        id=sensor.id,
        place=sensor.place,
        interval_ms=_ms(sensor.interval_s),
        silent_after_ms=_ms(sensor.silent_after_s),
        gateway=sensor.gateway,
    )


def _channels(
    farm: Farm, sensor: Sensor, guests: Sequence[_Guest], loadings: Sequence[Loading]
) -> Iterator[ChannelPlan]:
    place = farm.places[sensor.place]
    here = [guest for guest in guests if guest.place == place.id]
    for spec in sensor.channels:
        lines = tuple(lines_of(place, spec.quantity, here)) if spec.quantity in JUDGED else ()
        yield ChannelPlan(
            channel=Channel(sensor.id, spec.quantity),
            place=place.id,
            gap_ms=_ms(sensor.allowed_gap_s),
            silent_after_ms=_ms(sensor.silent_after_s),
            lines=lines,
            quiet_above=max((x.limit for x in lines if x.side is Side.LOW), default=-inf),
            quiet_below=min((x.limit for x in lines if x.side is Side.HIGH), default=inf),
            early=_early(place, spec.quantity),
            loadings=_held(place.id, loadings),
            aheads=tuple(_aheads(farm, place, lines)) if spec.quantity in _AIR and here else (),
        )


_MINUTE_MS: Final = 60_000
_TOWARD: Final = {  # within [K], least [K/h], ahead [ms]
    (PlaceKind.TUNNEL, AlarmKind.TOO_WARM): (8.0, 0.5, 60 * _MINUTE_MS),
    (PlaceKind.TUNNEL, AlarmKind.TOO_COLD): (1.0, 0.3, 30 * _MINUTE_MS),
    (PlaceKind.SPROUTING_ROOM, AlarmKind.TOO_COLD): (2.5, 0.2, 120 * _MINUTE_MS),
}
"""Chosen on simulated farms, seeds 1 to 8, frost on the measured tunnels themselves;
``tests/outside/test_heat_ahead.py`` holds the figures."""
_AIR: Final = (Quantity.TEMPERATURE,)


def _aheads(farm: Farm, place: Place, lines: Sequence[Line]) -> Iterator[Ahead]:
    """Yield the harm limits that are told ahead where something stands, the nearest of each."""
    harms = [each for each in lines if each.tolerated_ms is not None and each.kind is not None]
    for (of, kind), (within_k, least_k_h, ahead_ms) in _TOWARD.items():
        mine = [each for each in harms if each.kind is kind]
        if of is not place.kind or not mine:
            continue
        nearest = min(mine, key=lambda each: each.sign * each.limit)
        noon_ms = round((12.0 - farm.longitude / 15.0) * 60 * _MINUTE_MS)
        warm = kind is AlarmKind.TOO_WARM
        yield Ahead(
            replace(nearest, tolerated_ms=None), within_k, least_k_h, ahead_ms,
            noon_ms if warm else None, (nearest.tolerated_ms or 0) // 2 if warm else 0,
        )  # fmt: skip


def _early(place: Place, quantity: Quantity) -> Line | None:
    """Return the limit that a cooler's warming is told ahead of: the top of its band."""
    band = place.bands.get(quantity)
    if place.kind is not PlaceKind.COOLER or quantity is not Quantity.TEMPERATURE or band is None:
        return None
    tops = (band.ideal.high if band.ideal else None, band.harm.high if band.harm else None)
    limit = next((each for each in tops if each is not None), None)
    if limit is None:
        return None
    draft = _Draft(quantity, place.deadband_c, _ms(place.off_delay_s))
    return next(draft.early(limit))


def lines_of(place: Place, quantity: Quantity, guests: Sequence[_Guest]) -> list[Line]:
    """Return the lines of one quantity in a place; equal ones are one, with all owners."""
    merged: dict[LineKey, Line] = {}
    for line in _every_line(place, quantity, guests):
        known = merged.get(line.key)
        merged[line.key] = (
            line if known is None else replace(known, owners=known.owners + line.owners)
        )
    return list(merged.values())


def _every_line(place: Place, quantity: Quantity, guests: Sequence[_Guest]) -> Iterator[Line]:
    deadband = place.deadband_pct if quantity is Quantity.HUMIDITY else place.deadband_c
    draft = _Draft(quantity, deadband, _ms(place.off_delay_s))
    own = place.bands.get(quantity)
    if own is not None:
        yield from draft.lines(own, "place")
    for guest in guests:
        owner = f"batch:{guest.batch.id}"
        band = guest.stage.bands.get(quantity) if guest.stage else None
        if band is not None:
            yield from draft.lines(band, owner)
        for each in (own, band):
            if each is not None and each.harm is not None:
                yield from draft.cumulative(each.harm, guest, owner)


@dataclass(frozen=True, slots=True)
class _Draft:
    """What the lines of one quantity in one place have in common."""

    quantity: Quantity
    deadband: float
    off_delay_ms: int

    def lines(self, band: Band, owner: str) -> Iterator[Line]:
        """Yield the lines for one run outside: ideal and harm, low and high."""
        if band.ideal is not None:
            yield from self._line(Side.LOW, band.ideal.low, None, owner)
            yield from self._line(Side.HIGH, band.ideal.high, None, owner)
        if band.harm is not None:
            yield from self._line(Side.LOW, band.harm.low, band.harm.tolerated_low_s, owner)
            yield from self._line(Side.HIGH, band.harm.high, band.harm.tolerated_high_s, owner)

    def early(self, limit: float) -> Iterator[Line]:
        """Yield the line that a warming is told against."""
        for line in self._line(Side.HIGH, limit, 0.0, "place"):
            yield replace(line, tolerated_ms=None)

    def cumulative(self, harm: Harm, guest: _Guest, owner: str) -> Iterator[Line]:
        """Yield the lines that bound the whole time outside during a stay."""
        if harm.cumulative_s is None:
            return
        for side, limit in ((Side.LOW, harm.low), (Side.HIGH, harm.high)):
            for line in self._line(side, limit, 0.0, owner):
                yield replace(
                    line,
                    tolerated_ms=None,
                    cumulative_ms=_ms(harm.cumulative_s),
                    since_ms=guest.since_ms,
                    batch=guest.batch.id,
                )

    def _line(
        self, side: Side, limit: float | None, tolerated_s: float | None, owner: str
    ) -> Iterator[Line]:
        if limit is None:
            return
        yield Line(
            side=side,
            limit=limit,
            kind=None if tolerated_s is None else KIND_OF[self.quantity, side],
            tolerated_ms=None if tolerated_s is None else _ms(tolerated_s),
            cumulative_ms=None,
            since_ms=None,
            batch=None,
            deadband=self.deadband,
            off_delay_ms=self.off_delay_ms,
            owners=(owner,),
        )


def _dues(guests: Sequence[_Guest]) -> Iterator[Due]:
    for guest in guests:
        if guest.stage is None or guest.stage.longest_s is None:
            continue
        since_ms = stage_since(guest.batch)
        ends_ms = since_ms + _ms(guest.stage.longest_s)
        yield Due(
            batch=guest.batch.id,
            place=guest.place,
            stage=guest.stage.id,
            since_ms=since_ms,
            due_ms=ends_ms - _ms(guest.stage.tell_before_s),
            ends_ms=ends_ms,
            late_harms=guest.stage.late_harms,
        )


def stage_since(batch: Batch) -> int:
    """Return since when a batch is at its stage, whatever places it stood in. [ms]"""
    since_ms = batch.stays[-1].since_ms
    for stay in reversed(batch.stays):
        if stay.stage != batch.stays[-1].stage:
            break
        since_ms = stay.since_ms
    return since_ms


def _ms(seconds: float) -> int:
    return round(seconds * 1000)
