"""A batch's report, made from the store: everything that page, JSON and CSV show."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Final

from monitor.batches.history import History
from monitor.batches.telling import say_kind, stage_name
from monitor.batches.thermal_clock import DAY_MS
from monitor.batches.verdict import Verdict, say_verdict
from monitor.batches.voice import Voice
from monitor.farm import Farm, Sensor
from monitor.model import EntryKind
from monitor.phrase import Phrase, together
from monitor.report.asking import Asked
from monitor.report.forecast import given_low
from monitor.report.question import Judged, judge
from monitor.report.reading import Stores
from monitor.report.recorded import past_of, postings_in
from monitor.report.subject import Record, Subject, record_of, subject
from monitor.store import Ledger, ReadingReader
from monitor.watch.nights import Where, night_day

CAUTIONS: Final = Phrase(
    "A second pair of eyes, no more: no life-safety, fire, gas or entrapment "
    "alarm. Electrical and refrigeration work belongs to licensed people; "
    "chemicals are used by their labels; tell someone before you enter a "
    "walk-in alone; local codes come first."
)

THINNED: Final = "thinned"
"""Where the ledger keeps what was thinned."""


@dataclass(frozen=True, slots=True)
class Report:
    """One batch: its record and history, the verdict, and what to know about both."""

    told: Subject
    judged: Judged
    sensors: tuple[Sensor, ...]
    voice: Voice
    notes: tuple[str, ...]

    @property
    def farm(self) -> Farm:
        """Return the farm."""
        return self.told.stores.farm

    @property
    def history(self) -> History:
        """Return what the batch lived through."""
        return self.told.history

    @property
    def verdict(self) -> Verdict:
        """Return the verdict."""
        return self.judged.verdict

    @property
    def title(self) -> str:
        """Return whom the report is about: ``Batch 14, Dawn Apricot (Ranunculus)``."""
        return Phrase(
            "Batch {id}, {kind}", id=self.told.batch.id, kind=say_kind(self.farm, self.told.batch)
        )

    @property
    def spoken(self) -> str:
        """Return the verdict as one paragraph; a stage begins with its day 1."""
        batch = self.told.batch
        stage = stage_name(self.farm, batch.crop, batch.stays[-1].stage)
        day = (self.told.until_ms - self.told.stage_since_ms) // DAY_MS + 1
        return say_verdict(
            self.verdict,
            Phrase(
                "Batch {batch}, {stage}, day {day}",
                batch=together((str(batch.id), batch.cultivar or ""), ", "),
                stage=stage,
                day=max(day, 1),
            ),
        )


def stores_of(farm: Farm, record: Record, reader: ReadingReader, *, hourly: bool = False) -> Stores:
    """Return where reports of a farm read from."""
    return Stores(farm, past_of(farm, record.accepted), reader, hourly)


@dataclass(frozen=True, slots=True)
class Sources:
    """What reports are made from: the farm of today, the ledger, the readings, now. [ms]"""

    farm: Farm
    ledger: Ledger
    reader: ReadingReader
    now_ms: int

    @property
    def voice(self) -> Voice:
        """Return how the farm speaks."""
        return Voice(self.farm.units, self.farm.zone, self.now_ms)


def make_report(sources: Sources, number: int, asked: Asked | None = None) -> Report:
    """Make the report of one batch; ``asked`` is what the grower added to the question.

    Raises
    ------
    UnknownNameError
        If there is no such batch.
    StoreError
        If a file of the store cannot be read.
    """
    farm, now_ms, voice = sources.farm, sources.now_ms, sources.voice
    record = record_of(sources.ledger)
    stores = stores_of(farm, record, sources.reader)
    told = subject(stores, record, number, now_ms)
    judged = judge(told, record, _with_given(sources, asked or Asked()), voice)
    sensors = {
        posting.sensor.id: posting.sensor
        for stay in told.batch.stays
        for posting in postings_in(stores.past, farm.sensors, stay.place)
    }
    notes = [*_thinned(sources, told), *_notes(told, record)]
    return Report(told, judged, tuple(sensors.values()), voice, tuple(notes))


def _with_given(sources: Sources, asked: Asked) -> Asked:
    """Return the question with the forecast low that was given for tonight, unless it has one."""
    if asked.low_c is not None:
        return asked
    where = Where(sources.farm.latitude, sources.farm.longitude)
    given = given_low(sources.ledger, night_day(sources.now_ms, where))
    return asked if given is None else replace(asked, low_c=given.low_c)


def _thinned(sources: Sources, told: Subject) -> Sequence[str]:
    """Return that its early readings are thinned, where they are."""
    done = sources.ledger.get(THINNED) or []
    until_ms = max((each["until_ms"] for each in done), default=0)
    if told.batch.stays[0].since_ms >= until_ms:
        return []
    last = datetime.fromtimestamp(until_ms / 1000, UTC).date()
    told_so = Phrase(
        "Readings before {last} are thinned: each hour's extremes and every gap "
        "are exact, in between no moment is off by more than 0.2 °C or 2 % "
        "humidity.",
        last=last,
    )
    return [told_so]


def _notes(told: Subject, record: Record) -> Sequence[str]:
    """Return what to know about the figures: missing pieces in clear sentences."""
    notes = list(told.stores.past.notes) if told.history.stages else []
    farm, batch = told.stores.farm, told.batch
    if not told.history.stages:
        notes.append(Phrase("The batch has only just begun: there is no history yet."))
    for stage in told.history.stages:
        for place in stage.unmeasured:
            name = farm.places[place].name if place in farm.places else place
            at = stage_name(farm, batch.crop, stage.stage)
            notes.append(
                Phrase(
                    "The air of {name} at {stage} is not known: no reading of its temperature in "
                    "that time; nothing is said of it.",
                    name=name,
                    stage=at,
                )
            )
    if batch.crop not in farm.crops:
        notes.append(
            Phrase(
                "crops.toml has no crop {crop} any more: its limits are not known.", crop=batch.crop
            )
        )
    return [*notes, *_entries(told, record)]


def _entries(told: Subject, record: Record) -> Iterator[str]:
    """Yield what to know about the entries: late ones, and those that contradict."""
    late = [
        each for each in told.entries
        if each.kind is not EntryKind.UNDONE and each.recorded_ms - each.at_ms > DAY_MS
    ]  # fmt: skip
    if late:
        yield (
            Phrase(
                "{number} of its entries were recorded more than a day after what it tells of.",
                number=len(late),
            )
            if len(late) > 1
            else Phrase("One of its entries was recorded more than a day after what it tells of.")
        )
    for each in record.book.contradictions:
        if each.batch == told.batch.id:
            yield Phrase(
                "Entry #{entry} contradicts the ones before it and has no effect: {message}",
                entry=each.entry, message=each.message,
            )  # fmt: skip
