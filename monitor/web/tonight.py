"""Tonight and this morning's heat as the pages show them, kept for two minutes."""

from dataclasses import dataclass
from typing import Final

from monitor import notices
from monitor.batches import Book
from monitor.report.evenings import Grounds, Mornings, all_heat, all_tonight
from monitor.report.forecast import given_low
from monitor.report.reading import Stores
from monitor.report.recorded import past_of
from monitor.watch.heat import Heat
from monitor.watch.nights import Where, night_day
from monitor.watch.tonight import Tonight, Typed
from monitor.web.look import Look

_KEPT_MS: Final = 120_000


@dataclass(frozen=True, slots=True)
class Outdoors:
    """What tunnels and fields may expect, and of when it is. [ms]"""

    nights: tuple[Tonight, ...]
    heat: tuple[Heat, ...]
    key: tuple[int, str, Typed | None]
    book: Book


@dataclass(frozen=True, slots=True)
class Line:
    """One place's sentence and what stands behind it; ``act``: there is something to do."""

    place: str
    text: str
    behind: str
    act: bool


class Outlook:
    """Makes the outlook of the pages; what was made last serves for two minutes."""

    def __init__(self) -> None:
        self._mornings = Mornings()
        self._kept: Outdoors | None = None

    def at(self, look: Look) -> Outdoors:
        """Return the outlook as of a look.

        Raises
        ------
        StoreError
            If a file of the store cannot be read.
        """
        farm, ledger, now_ms = look.farm, look.desk.ledger, look.now_ms
        day = night_day(now_ms, Where(farm.latitude, farm.longitude))
        typed = given_low(ledger, day)
        key = (now_ms // _KEPT_MS, farm.digest, typed)
        kept = self._kept
        if kept is not None and kept.key == key and kept.book is look.book:
            return kept
        stores = Stores(farm, past_of(farm, ledger.configurations()), look.desk.reader())
        grounds = Grounds(stores, look.book, now_ms)
        nights = tuple(all_tonight(grounds, typed))
        self._kept = made = Outdoors(
            nights, tuple(all_heat(grounds, self._mornings)), key, look.book
        )
        return made


def lines(look: Look, told: Outdoors) -> list[Line]:
    """Return the sentences of a page, what asks for something to be done first."""
    how, rules = notices.telling(look.wording, look.now_ms), look.farm.notices
    found = [Line(each.place, *notices.heat_parts(each, how), act=True) for each in told.heat]
    found += [
        Line(each.place, *notices.tonight_parts(each, how), notices.needs_cover(each, rules))
        for each in told.nights
    ]
    return sorted(found, key=lambda each: not each.act)
