"""A batch beside the crop's earlier ones: how each went through its stage, and what came of it.

Conditions are taken from hourly means, which lose some of the degree-hours and none of
the hours known; the batch's own report is made from its readings.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from monitor.batches.rules.writing import known
from monitor.batches.telling import crop_name, stage_name
from monitor.batches.voice import Voice, percent
from monitor.days import with_year
from monitor.farm import Farm
from monitor.model import Batch
from monitor.phrase import Capital, Phrase
from monitor.report.living import Conditions, Yield, conditions, yield_of
from monitor.report.making import CAUTIONS, Sources, stores_of
from monitor.report.subject import record_of, subject
from monitor.report.tables import Sheet, Table, lines_of
from monitor.units import iso_utc

MOST: Final = 20
HOURLY: Final = Phrase(
    "Conditions are from hourly means; the batch's own report is from its readings."
)
CONDITIONS: Final = (
    Phrase("Days"), Phrase("Known"), Phrase("In band"), Phrase("Mean"), Capital(Phrase("out")),
    Phrase("Harm"),
)  # fmt: skip
"""The heads of what ``say_conditions`` returns."""
COMPARED: Final = (
    "batch", "cultivar", "supplier", "began", "stage", "days", "hours_known", "in_band_share",
    "mean_c", "thermal_time_cd", "out_h", "harm_h", "received", "rotten", "planted", "first_cut",
    "stems", "stems_a_corm", "culls",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Compared:
    """One batch in the comparison; ``was`` is None where it was never at the stage."""

    batch: Batch
    was: Conditions | None
    came: Yield


@dataclass(frozen=True, slots=True)
class Comparison:
    """A batch, first, and the crop's earlier ones, the newest next."""

    farm: Farm
    stage: str
    voice: Voice
    batches: tuple[Compared, ...]

    def rows(self) -> Iterator[tuple[str, ...]]:
        """Yield the rows for CSV; what is not known is empty."""
        for each in self.batches:
            yield tuple("" if cell is None else str(cell) for cell in _plain(self, each).values())

    def page(self) -> Sheet:
        """Return the page."""
        mine = self.batches[0].batch
        crop = crop_name(self.farm, mine.crop)
        stage = stage_name(self.farm, mine.crop, self.stage)
        notes: list[str] = [HOURLY]
        if len(self.batches) == 1:
            none = Phrase("There is no earlier batch of {crop} to compare with yet.", crop=crop)
            notes.insert(0, none)
        return Sheet(
            title=Phrase("Batch {id} beside earlier {crop}", id=mine.id, crop=crop),
            line=Phrase("Its stage {stage}, and what came of each", stage=stage),
            farm=self.farm.name,
            tables=(_table(self),),
            notes=notes,
            cautions=CAUTIONS,
        )


def compare(sources: Sources, number: int) -> Comparison:
    """Lay a batch beside at most twenty earlier ones of its crop, by the stage it is at.

    Raises
    ------
    UnknownNameError
        If there is no such batch.
    """
    record = record_of(sources.ledger)
    mine = known(record.book, number)
    stage = mine.stays[-1].stage
    began_ms = mine.stays[0].since_ms
    earlier = [
        each
        for each in record.book.batches.values()
        if each.crop == mine.crop and each.id != number and each.stays[0].since_ms <= began_ms
        and any(stay.stage == stage for stay in each.stays)
    ]  # fmt: skip
    earlier.sort(key=lambda each: -each.stays[0].since_ms)
    stores = stores_of(sources.farm, record, sources.reader, hourly=True)
    told = [
        Compared(
            each,
            conditions(subject(stores, record, each.id, sources.now_ms).history, stage),
            yield_of(sources.farm, record, each),
        )
        for each in [mine, *earlier[:MOST]]
    ]
    return Comparison(sources.farm, stage, sources.voice, tuple(told))


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)


def _plain(comparison: Comparison, each: Compared) -> dict[str, Any]:
    batch, was, came = each.batch, each.was, each.came
    figures = (None,) * 7 if was is None else (
        round(was.days, 2), round(was.coverage, 4), _rounded(was.in_band, 4),
        _rounded(was.mean_c, 2), _rounded(was.thermal_cd, 2), _rounded(was.out_h, 2),
        round(was.harm_h, 2),
    )  # fmt: skip
    values = (
        batch.id, batch.cultivar or None, batch.supplier, iso_utc(batch.stays[0].since_ms),
        comparison.stage, *figures, came.received, came.rotten, came.planted,
        iso_utc(came.first_cut_ms), came.stems if came.first_cut_ms else None,
        _rounded(came.stems_a_corm, 2), came.culls,
    )  # fmt: skip
    return dict(zip(COMPARED, values, strict=True))


def comparison_json(comparison: Comparison) -> dict[str, Any]:
    """Return a comparison, the batch itself first; what is missing is null."""
    return {
        "batch": comparison.batches[0].batch.id,
        "stage": comparison.stage,
        "batches": [_plain(comparison, each) for each in comparison.batches],
        "notes": list(comparison.page().notes),
    }


def say_comparison(comparison: Comparison) -> list[str]:
    """Return a comparison as lines for a terminal."""
    page = comparison.page()
    return [page.title, page.line, "", *lines_of(_table(comparison)), "", *page.notes]


def _table(comparison: Comparison) -> Table:
    head = (
        Phrase("Batch"), Phrase("Cultivar"), Phrase("Supplier"), Phrase("Began"), *CONDITIONS,
        Phrase("Planted"), Phrase("Stems"), Phrase("A corm"),
    )  # fmt: skip
    rows = [_row(each, comparison.voice) for each in comparison.batches]
    return Table("", head, rows, frozenset({0, *range(4, 13)}))


def _row(each: Compared, voice: Voice) -> tuple[str, ...]:
    batch, was, came = each.batch, each.was, each.came
    start = (
        str(batch.id), batch.cultivar, batch.supplier or "",
        with_year(voice.date(batch.stays[0].since_ms)),
    )  # fmt: skip
    end = (
        "" if came.planted is None else f"{came.planted:,}",
        f"{came.stems:,}" if came.first_cut_ms else "",
        "" if came.stems_a_corm is None else f"{came.stems_a_corm:.1f}",
    )
    return (*start, *say_conditions(was, voice), *end)


def say_conditions(was: Conditions | None, voice: Voice) -> tuple[str, ...]:
    """Return days, hours known, in band, mean, time out and harm, empty where not known."""
    if was is None:
        return ("",) * 6
    return (
        f"{was.days:.1f}",
        percent(was.coverage),
        "" if was.in_band is None else percent(was.in_band),
        "" if was.mean_c is None else voice.degrees(was.mean_c, 1),
        "" if was.out_h is None else f"{was.out_h:.0f} h",
        f"{was.harm_h:.1f} h" if was.mean_c is not None else "",
    )
