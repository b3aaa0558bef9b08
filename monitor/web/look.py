"""One look at the running monitor: what a page is made of, all of one moment."""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Final, Self

from monitor.alarms import Wording, wording
from monitor.alarms.saying import say_span, say_time
from monitor.batches import Book, open_batches
from monitor.batches.telling import crop_name, place_name, stage_name
from monitor.days import MONTH_NAMES, WEEKDAYS
from monitor.errors import UnknownNameError
from monitor.farm import Farm, Place
from monitor.model import Batch, PlaceKind, PlaceState, Quantity
from monitor.phrase import Phrase
from monitor.watch import (
    BatchStatus,
    ChannelStatus,
    PlaceStatus,
    WatchState,
    batch_status,
    place_status,
)
from monitor.watch.status import Shared
from monitor.web.desk import Desk
from monitor.web.words import (
    ENDED,
    Standing,
    batch_name,
    quantity_name,
    say_ago,
    say_figure,
    standing,
)

WARMTH: Final = (Quantity.TEMPERATURE, Quantity.SOIL_TEMPERATURE)


@dataclass(frozen=True, slots=True)
class Look:
    """The farm, the watch and the book at one moment, and the farm's way to say things."""

    desk: Desk
    farm: Farm
    watch: WatchState
    book: Book
    now_ms: int
    wording: Wording
    _statuses: dict[str, PlaceStatus] = field(default_factory=dict)
    _shared: Shared = field(default_factory=dict)

    @classmethod
    def at(cls, desk: Desk) -> Self:
        """Take a look."""
        farm, book, watch = desk.farm(), desk.book(), desk.watch()
        words = wording(farm, open_batches(book), book.holds)
        return cls(desk, farm, watch, book, desk.now_ms(), words)

    def status(self, place: str) -> PlaceStatus:
        """Return how a place stands; unknown where the watch has not met it yet."""
        if not self.knows(place):
            return PlaceStatus(place, PlaceState.UNKNOWN, None, (), ())
        if place not in self._statuses:
            self._statuses[place] = place_status(self.watch, place, self.now_ms)
        return self._statuses[place]

    def batch_status(self, batch: Batch) -> BatchStatus:
        """Return how a batch stands now."""
        return batch_status(self.watch, batch, self.now_ms, self._shared)

    def known_place(self, place: str) -> Place:
        """Return a place of the farm.

        Raises
        ------
        UnknownNameError
            If the farm has none of this id.
        """
        if place not in self.farm.places:
            raise UnknownNameError(Phrase("There is no such place on this farm now."))
        return self.farm.places[place]

    def met(self) -> Farm:
        """Return the farm with only those places that the watch has met."""
        places = {key: each for key, each in self.farm.places.items() if self.knows(key)}
        return replace(self.farm, places=places)

    def knows(self, place: str) -> bool:
        """Return whether the watch has met a place: a new one takes it a moment."""
        return place in self.watch.plan.places

    def figure(self, value: float | None, quantity: Quantity) -> str:
        """Return a value in the farm's unit."""
        return say_figure(value, quantity, self.farm.units)

    def time(self, at_ms: int) -> str:
        """Return a time of the farm's clock."""
        return say_time(at_ms, self.farm.zone, self.now_ms)

    def day_and_time(self) -> str:
        """Return this moment with its date: ``"Wednesday 25 November 2026, 12:00"``."""
        at = datetime.fromtimestamp(self.now_ms / 1000, self.farm.zone)
        return Phrase(
            "{weekday} {day} {month} {year}, {clock}",
            weekday=WEEKDAYS[at.weekday()], day=at.day, month=MONTH_NAMES[at.month - 1],
            year=at.year, clock=f"{at:%H:%M}",
        )  # fmt: skip

    def ago(self, at_ms: int) -> str:
        """Return how long ago a time is."""
        return say_ago(at_ms, self.now_ms)

    def lasting(self, since_ms: int | None) -> str:
        """Return ``"for 1 h 25 min, since 03:12"``; nothing where it is not known."""
        if since_ms is None:
            return ""
        span = say_span(max(0.0, (self.now_ms - since_ms) / 1000))
        return Phrase("for {span}, since {time}", span=span, time=self.time(since_ms))

    def quantity(self, quantity: Quantity, place: str | None) -> str:
        """Return what a quantity is called in a place."""
        return quantity_name(quantity, self.kind(place))

    def kind(self, place: str | None) -> PlaceKind | None:
        """Return the kind of a place, None where the farm no longer has it."""
        found = self.farm.places.get(place or "")
        return found.kind if found else None

    def batch(self, batch: Batch) -> str:
        """Return a batch's name."""
        return batch_name(batch, crop_name(self.farm, batch.crop))

    def place(self, place: str) -> str:
        """Return a place's name."""
        return place_name(self.farm, place)

    def stage(self, batch: Batch, stage: str) -> str:
        """Return a stage's name by the batch's crop."""
        return stage_name(self.farm, batch.crop, stage)


def standing_of(status: PlaceStatus | BatchStatus) -> Standing:
    """Return how a place or a batch stands, by its worst channel, of equals by its air."""
    if isinstance(status, BatchStatus) and status.place is None:
        return ENDED
    worst = [each for each in status.channels if each.state is status.state]
    if status.state is PlaceState.UNKNOWN or not worst:
        return standing(status.state, None, None)
    return channel_standing(min(worst, key=lambda each: each.channel.quantity not in WARMTH))


def channel_standing(status: ChannelStatus) -> Standing:
    """Return how one channel stands."""
    ideal = status.state is PlaceState.DRIFTING
    out = [line for line in status.lines if line.ideal is ideal and (line.outside or line.alarming)]
    side = out[0].side if out else None
    return standing(status.state, status.channel.quantity, side)


def by_standing(statuses: Iterable[ChannelStatus]) -> list[ChannelStatus]:
    """Return channels as a page shows them: trusted first, of those the worst, the newest."""
    order = (PlaceState.HARM, PlaceState.DRIFTING, PlaceState.IN_BAND, PlaceState.UNKNOWN)
    return sorted(
        statuses, key=lambda each: (not each.trusted, order.index(each.state), -(each.at_ms or 0))
    )


def by_danger(statuses: Iterable[ChannelStatus]) -> list[ChannelStatus]:
    """Return channels as many are listed: harm first, then what is out longest, then unknown.

    Those that stand alike stay in the farm's order, so that nothing moves while one reads.
    """
    order = (PlaceState.HARM, PlaceState.DRIFTING, PlaceState.UNKNOWN, PlaceState.IN_BAND)
    out = order[:2]
    return sorted(
        statuses,
        key=lambda each: (
            order.index(each.state), (each.since_ms or 0) if each.state in out else 0
        ),
    )  # fmt: skip
