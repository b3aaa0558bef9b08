"""Batches in plain words: the place first, the farm's names, units and times."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

from monitor.batches.book import Book, open_batches
from monitor.batches.counts import counted, unit_word
from monitor.farm import Farm, format_when
from monitor.model import Batch, EntryKind, LedgerEntry, PlaceState
from monitor.phrase import Phrase, together

STATES: Final = {
    PlaceState.IN_BAND: "in band",
    PlaceState.DRIFTING: "drifting",
    PlaceState.HARM: "OUT OF BAND, HARM",
    PlaceState.UNKNOWN: "state not known",
}


def place_name(farm: Farm, place: str) -> str:
    """Return a place's name; its id where the farm no longer has it."""
    return farm.places[place].name if place in farm.places else place


def crop_name(farm: Farm, crop: str) -> str:
    """Return a crop's name; its id where the farm no longer has it."""
    return Phrase(farm.crops[crop].name) if crop in farm.crops else crop


def stage_name(farm: Farm, crop: str, stage: str) -> str:
    """Return a stage's name; its id in words where the crop no longer has it."""
    stages = farm.crops[crop].stages if crop in farm.crops else {}
    return Phrase(stages[stage].name) if stage in stages else stage.replace("_", " ")


def say_kind(farm: Farm, batch: Batch) -> str:
    """Return what a batch is: ``"Dawn Apricot (ranunculus)"``."""
    crop = crop_name(farm, batch.crop)
    if not batch.cultivar:
        return crop
    return Phrase("{cultivar} ({crop})", cultivar=batch.cultivar, crop=crop)


def say_batches(farm: Farm, book: Book, states: Mapping[int, PlaceState]) -> list[str]:
    """Return the open batches by place, one line each."""
    here = open_batches(book)
    lines: list[str] = []
    for place in dict.fromkeys(batch.stays[-1].place for batch in here):
        lines.append(place_name(farm, place))
        lines += [
            line
            for batch in here
            if batch.stays[-1].place == place
            for line in _in_place(farm, book, batch, states)
        ]
    return lines


def say_ended(farm: Farm, book: Book) -> list[str]:
    """Return the ended batches, one line each."""
    return [
        f"  {batch.id:>3}  {say_kind(farm, batch)}, {_left_over(batch)}, "
        f"ended {format_when(batch.ended_ms, farm.zone)}"
        for batch in book.batches.values()
        if batch.ended_ms is not None
    ]


def _left_over(batch: Batch) -> str:
    return f"last {counted(batch.count, batch.unit, rough=batch.rough)}"


def _in_place(
    farm: Farm, book: Book, batch: Batch, states: Mapping[int, PlaceState]
) -> Iterator[str]:
    last = batch.stays[-1]
    state = STATES[states.get(batch.id, PlaceState.UNKNOWN)]
    yield (
        f"  {batch.id:>3}  {say_kind(farm, batch)}, {stage_name(farm, batch.crop, last.stage)}, "
        f"{counted(batch.count, batch.unit, rough=batch.rough)}, "
        f"since {format_when(last.since_ms, farm.zone)}: {state}"
    )
    for hold in book.holds[batch.id]:
        yield f"       {hold.count:,} held for {hold.held_for}"


def say_batch(farm: Farm, book: Book, batch: Batch, states: Mapping[int, PlaceState]) -> list[str]:
    """Return where a batch is and what is known of it, in a few lines."""
    last = batch.stays[-1]
    if batch.ended_ms is None:
        first = f"{place_name(farm, last.place)}: batch {batch.id}, {say_kind(farm, batch)}"
        state = STATES[states.get(batch.id, PlaceState.UNKNOWN)]
        at = f"At {stage_name(farm, batch.crop, last.stage)}, here since "
        lines = [first, f"{at}{format_when(last.since_ms, farm.zone)}: {state}"]
    else:
        ended = format_when(batch.ended_ms, farm.zone)
        lines = [f"Batch {batch.id}, {say_kind(farm, batch)}: ended {ended}"]
    number = counted(batch.count, batch.unit, rough=batch.rough)
    when = batch.counted_at_ms
    lines.append(f"{number}, counted {format_when(when, farm.zone)}" if when else number)
    lines += [f"{hold.count:,} held for {hold.held_for}" for hold in book.holds[batch.id]]
    return [*lines, *_origin(batch)]


def _origin(batch: Batch) -> list[str]:
    facts = {
        "from": batch.supplier, "lot": batch.lot, "grade": batch.grade,
        "received": batch.received, "rotten": batch.rotten,
        "out of batch": ", ".join(map(str, batch.parents)) or None,
    }  # fmt: skip
    told = [f"{name} {value}" for name, value in facts.items() if value is not None]
    return ["; ".join(told)] if told else []


def say_stays(farm: Farm, batch: Batch) -> list[str]:
    """Return where a batch was, stay by stay."""
    return [
        f"  {format_when(stay.since_ms, farm.zone)} to "
        f"{'now' if stay.until_ms is None else format_when(stay.until_ms, farm.zone)}  "
        f"{place_name(farm, stay.place)}, {stage_name(farm, batch.crop, stay.stage)}"
        for stay in batch.stays
    ]


def say_record(farm: Farm, book: Book, batch: Batch, entries: Sequence[LedgerEntry]) -> list[str]:
    """Return a batch's entries as they were written, with who and when."""
    return [
        f"  #{entry.id}  {format_when(entry.at_ms, farm.zone)}  {say_entry(farm, batch, entry)}"
        f" ({entry.by}){' [undone]' if entry.id in book.undone else ''}"
        for entry in entries
        if entry.batch == batch.id
    ]


def say_entry(farm: Farm, batch: Batch, entry: LedgerEntry) -> str:
    """Return what one entry says, in a few words."""
    data = entry.data
    if entry.kind in (EntryKind.ADDED, EntryKind.MOVED):
        return Phrase(
            "added to {place} at {stage}"
            if entry.kind is EntryKind.ADDED
            else "moved to {place} at {stage}",
            place=place_name(farm, data["place"]),
            stage=stage_name(farm, batch.crop, data["stage"]),
        )
    if entry.kind is EntryKind.OBSERVED:
        return Phrase("seen: {what}", what=_say_seen(data))
    if entry.kind is EntryKind.ENDED:
        return Phrase("ended: {why}", why=data["reason"])
    if entry.kind is EntryKind.UNDONE:
        return Phrase("entry #{entry} ({what}) undone", entry=data["entry"], what=data["what"])
    return _say_number(batch, entry)


_OUT: Final = {
    "sold": Phrase("sold"), "used": Phrase("used"), "given": Phrase("given"),
    "culled": Phrase("culled"),
}  # fmt: skip


def _say_number(batch: Batch, entry: LedgerEntry) -> str:
    data = entry.data
    number = _about(data)
    if entry.kind is EntryKind.OUT:
        purpose = _OUT.get(str(data.get("purpose")), str(data.get("purpose")))
        if data.get("to"):
            return Phrase(
                "{number} {purpose} to {to}", number=number, purpose=purpose, to=data["to"]
            )
        return together((number, purpose))
    if entry.kind is EntryKind.GATHERED:
        source = data.get("from")
        return Phrase(
            "{number} stems added, harvested from batch {batch}", number=number, batch=source
        )
    if entry.kind is EntryKind.DIVIDED:
        return Phrase("divided into {number} {unit}", number=number, unit=unit_word(batch.unit))
    return Phrase(
        {
            EntryKind.HARVESTED: Phrase("{number} stems harvested"),
            EntryKind.SPLIT: Phrase("{number} became a batch of their own"),
        }[entry.kind],
        number=number,
    )


def _about(data: Mapping[str, Any]) -> str:
    if data.get("rough"):
        return Phrase("about {number:,}", number=data["count"])
    return f"{data['count']:,}"


def _say_seen(data: Mapping[str, Any]) -> str:
    parts: list[str] = [Phrase("all fine")] if data.get("all_fine") else []
    if "roots" in data:
        parts.append(Phrase("roots {roots}", roots=_say_roots(data["roots"])))
    parts += [together((word, str(data[key]))) for key, word in _SIGNS.items() if key in data]
    if data.get("culls"):
        parts.append(Phrase("{number:,} culled", number=data["culls"]))
    if "count" in data:
        parts.append(Phrase("counted {number}", number=_about(data)))
    if "held_for" in data:
        parts.append(
            Phrase(
                "{count:,} held for {held_for}",
                count=data.get("held", 0),
                held_for=data["held_for"],
            )
        )
    return together([*parts, str(data.get("note") or "")], ", ")


_SIGNS: Final = {
    "mould": Phrase("mould"), "softness": Phrase("softness"), "moisture": Phrase("moisture"),
}  # fmt: skip


def _say_roots(roots: Mapping[str, Any]) -> str:
    if roots.get("lengths_mm"):
        lengths = roots["lengths_mm"]
        return Phrase(
            "of {number} corms {least:g} to {most:g} mm",
            number=len(lengths), least=min(lengths), most=max(lengths),
        )  # fmt: skip
    if roots.get("of"):
        return Phrase("{rooted} of {of}", rooted=roots["rooted"], of=roots["of"])
    return f"{100 * roots['share']:.0f} %"
