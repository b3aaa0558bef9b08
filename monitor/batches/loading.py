"""A place that is being loaded: its warm air is expected, for an hour or two at most.

Each beginning and each end is an entry of its own in the ledger, written once.
"""

from collections.abc import Callable, Iterable, Sequence
from typing import Final

from monitor.batches.plain_text import NAME_AT_MOST, printable
from monitor.errors import LedgerRuleError
from monitor.model import EntryKind, LedgerEntry, NewEntry
from monitor.model.batch import NO_BATCH, Loading

USUAL_MS: Final = 60 * 60_000
LONGEST_MS: Final = 2 * 3_600_000
"""No loading takes longer, and warm air of longer is harm: common practice. [ms]"""

Build = Callable[[Sequence[LedgerEntry]], Sequence[NewEntry]]


def loadings(entries: Iterable[LedgerEntry]) -> tuple[Loading, ...]:
    """Return the times of loading from their entries, in the order these take effect.

    A later entry of a place ends the one before it: it was made longer, or is over.
    """
    found: list[Loading] = []
    for entry in entries:
        place, at_ms = str(entry.data["place"]), entry.at_ms
        found = [
            each._replace(until_ms=min(each.until_ms, at_ms)) if each.place == place else each
            for each in found
        ]
        until_ms = min(int(entry.data["until_ms"]), at_ms + LONGEST_MS)
        if until_ms > at_ms:
            found.append(Loading(place, at_ms, until_ms))
    return tuple(found)


def load(place: str, until_ms: int, by: str, now_ms: int) -> Build:
    """Return the builder for a place that is being loaded from now on.

    Raises
    ------
    LedgerRuleError
        If the name cannot be shown, or the end is past or too far off; from the builder,
        if loading after loading would outlast ``LONGEST_MS``.
    """
    printable(by, NAME_AT_MOST, "the name")
    if until_ms <= now_ms:
        raise LedgerRuleError("the loading ends before it begins: give it some minutes: --for 60m")
    if until_ms - now_ms > LONGEST_MS:
        raise LedgerRuleError(
            "a loading takes 2 hours at most: warm air of longer harms what is kept there"
        )

    def build(entries: Sequence[LedgerEntry]) -> Sequence[NewEntry]:
        begun_ms = _begun(entries, place, now_ms)
        if begun_ms is not None and until_ms - begun_ms > LONGEST_MS:
            raise LedgerRuleError(
                "this loading has been going on already, and takes 2 hours at most in all: "
                "shut the door, and let the place cool down"
            )
        return [_entry(place, until_ms, by, now_ms)]

    return build


def end_loading(place: str, by: str, now_ms: int) -> Build:
    """Return the builder for a loading that is over; nothing where there is none.

    Raises
    ------
    LedgerRuleError
        If the name cannot be shown.
    """
    printable(by, NAME_AT_MOST, "the name")

    def build(entries: Sequence[LedgerEntry]) -> Sequence[NewEntry]:
        if _begun(entries, place, now_ms) is None:
            return []
        return [_entry(place, now_ms, by, now_ms)]

    return build


def _entry(place: str, until_ms: int, by: str, now_ms: int) -> NewEntry:
    data = {"place": place, "until_ms": until_ms}
    return NewEntry(NO_BATCH, EntryKind.LOADING, now_ms, by, data)


def _begun(entries: Sequence[LedgerEntry], place: str, now_ms: int) -> int | None:
    """Return since when a place is being loaded without a break, or None. [ms]"""
    kept = sorted(
        (each for each in entries if each.kind is EntryKind.LOADING),
        key=lambda each: (each.at_ms, each.id),
    )
    begun_ms: int | None = None
    last_ms = now_ms
    for each in reversed([one for one in loadings(kept) if one.place == place]):
        if each.until_ms < last_ms or (begun_ms is None and each.until_ms <= now_ms):
            break
        begun_ms = last_ms = each.from_ms
    return begun_ms
