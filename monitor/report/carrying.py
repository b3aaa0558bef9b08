"""Stems that were just moved or went out: will they sweat where they come to?

A carriage of hours ago is past telling. Where stems leave the farm nothing is known of
the air they come into: the humidity above which they sweat in a room is told instead.
"""

from collections.abc import Iterator, Sequence
from typing import Final

from monitor.batches import Book, stay_at
from monitor.batches.sweating import DEFAULT_LAG_S, HARMLESS_K, say_sweat, sweat
from monitor.batches.voice import Voice
from monitor.model import EntryKind, LedgerEntry, PlaceKind, Quantity
from monitor.report.asking import newest
from monitor.report.reading import Stores
from monitor.science.moist_air import relative_humidity_pct

FRESH_MS: Final = 3 * 3_600_000
ROOM_C: Final = 20.0
_COLD_C: Final = 12.0


def sweating_lines(
    stores: Stores, book: Book, entries: Sequence[LedgerEntry], voice: Voice
) -> Iterator[str]:
    """Yield what to know of stems that entries just carried somewhere; harmless is silent.

    Parameters
    ----------
    stores : Stores
        The farm and its readings.
    book : Book
        The ledger with the entries in it.
    entries : sequence of LedgerEntry
        Those just written.
    voice : Voice
        The farm's, and now.
    """
    said = set()
    for entry in entries:
        batch = book.batches.get(entry.batch)
        if batch is None or batch.unit != "stems" or voice.now_ms - entry.at_ms > FRESH_MS:
            continue
        before = stay_at(batch, entry.at_ms - 1)
        if before is None:
            continue
        line = None
        if entry.kind is EntryKind.MOVED and entry.data["place"] != before.place:
            line = _moved(stores, before.place, entry.data["place"], voice)
        elif entry.kind is EntryKind.OUT and entry.data.get("purpose") != "culled":
            line = _out(stores, before.place, voice)
        if line is not None and line not in said:
            said.add(line)
            yield line


def _air(stores: Stores, place: str, now_ms: int) -> tuple[float | None, float | None]:
    """Return a place's newest air and humidity, None where there is none lately."""
    since_ms = now_ms - FRESH_MS
    series = stores.series(place, since_ms, now_ms)
    return (
        newest(series, Quantity.TEMPERATURE, since_ms),
        newest(series, Quantity.HUMIDITY, since_ms),
    )


def _moved(stores: Stores, source: str, target: str, voice: Voice) -> str | None:
    stems_c, _ = _air(stores, source, voice.now_ms)
    air_c, damp = _air(stores, target, voice.now_ms)
    places = stores.farm.places
    if stems_c is None or air_c is None or damp is None or target not in places:
        return None
    lag_s = (places[source].lag_s if source in places else 0.0) or DEFAULT_LAG_S
    return say_sweat(sweat(stems_c, air_c, damp, lag_s), places[target].name, voice)


def _out(stores: Stores, source: str, voice: Voice) -> str | None:
    stems_c, _ = _air(stores, source, voice.now_ms)
    if stems_c is None or stems_c > _COLD_C:
        return None
    outside = next((p for p in stores.farm.places.values() if p.kind is PlaceKind.FIELD), None)
    air_c, damp = _air(stores, outside.id, voice.now_ms) if outside else (None, None)
    if outside is not None and air_c is not None and damp is not None:
        return say_sweat(sweat(stems_c, air_c, damp), outside.name, voice)
    limit = float(relative_humidity_pct(ROOM_C, stems_c + HARMLESS_K))
    return (
        f"Stems at {voice.degrees(stems_c)} sweat in a room at {voice.degrees(ROOM_C)} with over "
        f"{limit:.0f} % humidity: let them warm in open boxes, and sleeve them dry."
    )
