"""Tells in the afternoon which tunnels to cover, and in the morning when to open them.

A part of its own beside the watch: what it learns from past nights and mornings is read in
a thread, only while there may be something to tell, and nothing waits for it.
"""

import asyncio
import logging
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from datetime import date
from typing import Final

from monitor import notices
from monitor.clock import Clock
from monitor.daemon.judge import Judge
from monitor.errors import StoreError
from monitor.farm import Farm
from monitor.model import Notice
from monitor.report.evenings import Grounds, Mornings, all_heat, place_tonight
from monitor.report.forecast import given_low
from monitor.report.reading import Stores
from monitor.report.recorded import past_of
from monitor.science.sun import solar_day, sun_times
from monitor.store import Ledger, ReadingReader, ReadingStore
from monitor.watch.heat import worth_telling
from monitor.watch.nights import HOUR_MS, Where, night_day, night_of

log = logging.getLogger("cormwatch")

_EVERY_S: Final = 300.0
_TURN_S: Final = (1.0, 60.0)
_HEAT_MS: Final = 9 * HOUR_MS
COVERS: Final = "covers_told"
HEAT: Final = "heat_told"


def grounds_of(
    farm: Farm, ledger: Ledger, reader: ReadingReader, judge: Judge, now_ms: int
) -> Grounds:
    """Return what outlooks are made from, as the daemon has it."""
    stores = Stores(farm, past_of(farm, ledger.configurations()), reader)
    return Grounds(stores, judge.book, now_ms)


@dataclass
class Outlooks:
    """Turns every five minutes of judged time; ``wake_courier`` after a message."""

    judge: Judge
    store: ReadingStore
    clock: Clock
    wake_courier: Callable[[], None]
    mornings: Mornings = field(default_factory=Mornings)
    _said: str = ""

    async def run(self) -> None:
        """Turn until cancelled; a file that fails is said once, and tried again."""
        least_s, most_s = _TURN_S
        while True:
            wait_s = self.clock.real_seconds(_EVERY_S)
            await asyncio.sleep(min(max(wait_s, least_s), most_s))
            if await asyncio.to_thread(self._guarded, self.clock.now_ms()):
                self.wake_courier()

    def _guarded(self, now_ms: int) -> bool:
        """Turn; what fails is said once, and neither it nor a defect ends the daemon."""
        try:
            told, said = self.turn(now_ms), ""
        except StoreError as failure:
            told, said = False, str(failure)
            if said != self._said:
                log.error("the outlook is put off: %s", said)  # noqa: TRY400 - expected
        except Exception as defect:  # advice for the evening must not stop the alarms
            told, said = False, repr(defect)
            if said != self._said:
                log.exception("the outlook could not be made")
        self._said = said
        return told

    def turn(self, now_ms: int) -> bool:
        """Write what is due now; return whether a message was written.

        Raises
        ------
        StoreError
            If a file of the store cannot be read or written.
        """
        covers = self._covers_due(now_ms)
        heat_day = self._heat_day(now_ms)
        if covers is None and heat_day is None:
            return False
        with closing(self.store.reader()) as reader:
            judge = self.judge
            grounds = grounds_of(judge.farm, judge.ledger, reader, judge, now_ms)
            wrote = covers is not None and self._tell_covers(grounds, covers)
            return (heat_day is not None and self._tell_heat(grounds, heat_day)) or wrote

    @property
    def _where(self) -> Where:
        return Where(self.judge.farm.latitude, self.judge.farm.longitude)

    def _covers_due(self, now_ms: int) -> date | None:
        """Return the evening whose covers may be spoken of now."""
        farm, day = self.judge.farm, night_day(now_ms, self._where)
        night = night_of(day, self._where)
        window = notices.cover_window(night, farm.notices, farm.zone)
        return day if window is not None and window[0] <= now_ms < window[1] else None

    def _heat_day(self, now_ms: int) -> date | None:
        """Return the day whose heat may be spoken of now."""
        day = solar_day(now_ms, self._where.longitude)
        rise_ms = sun_times(day, *self._where).rise_ms
        return day if rise_ms is not None and 0 <= now_ms - rise_ms <= _HEAT_MS else None

    def _tell_covers(self, grounds: Grounds, day: date) -> bool:
        told = self._told(COVERS, day)
        places = [each for each in grounds.places() if each.id not in told]
        typed = given_low(self.judge.ledger, day)
        nights = [
            place_tonight(grounds, each, typed) for each in places if grounds.matters(each)
        ]  # fmt: skip
        farm, now_ms = self.judge.farm, grounds.now_ms
        cold = [each for each in nights if notices.needs_cover(each, farm.notices)]
        rows = notices.cover_message(cold, self.judge.words, farm.people, farm.notices, now_ms)
        return self._write(COVERS, day, [*told, *(each.place for each in cold)], rows, now_ms)

    def _tell_heat(self, grounds: Grounds, day: date) -> bool:
        told, now_ms, farm = self._told(HEAT, day), grounds.now_ms, self.judge.farm
        warm = [
            each
            for each in all_heat(grounds, self.mornings)
            if each.place not in told and worth_telling(each, now_ms)
        ]
        rows = notices.heat_message(warm, self.judge.words, farm.people, farm.notices, now_ms)
        return self._write(HEAT, day, [*told, *(each.place for each in warm)], rows, now_ms)

    def _told(self, key: str, day: date) -> list[str]:
        """Return the places that have been told of on a day."""
        kept = self.judge.ledger.get(key)
        return list(kept["places"]) if kept and kept["day"] == day.isoformat() else []

    def _write(
        self, key: str, day: date, told: Sequence[str], rows: tuple[Notice, ...], now_ms: int
    ) -> bool:
        if not rows:
            return False
        note = (key, {"day": day.isoformat(), "places": list(told)})
        self.judge.ledger.add_notices(rows, now_ms, note=note)
        return True
