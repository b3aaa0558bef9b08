"""The year sheet: the page one reorders from.

By crop, cultivar and supplier: what was received, rotten, planted and cut, beside the
conditions each batch lived through. A batch belongs to the year it began in; what was
split or cut from it counts with it.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

from monitor.batches.readiness import ROOTING_STAGE
from monitor.batches.telling import crop_name
from monitor.batches.voice import Voice, percent
from monitor.days import with_year
from monitor.farm import Farm
from monitor.model import Batch
from monitor.phrase import Phrase
from monitor.report.comparing import CONDITIONS, HOURLY, say_conditions
from monitor.report.living import Conditions, Yield, conditions, whole, yield_of
from monitor.report.making import CAUTIONS, Sources, stores_of
from monitor.report.subject import record_of, subject
from monitor.report.tables import Sheet, Table, lines_of
from monitor.units import iso_utc

YEARLY: Final = (
    "crop", "cultivar", "supplier", "batches", "received", "rotten", "planted", "first_cut",
    "stems", "stems_a_corm", "culls", "days", "hours_known", "in_band_share", "mean_c", "out_h",
    "harm_h", "life_known",
)  # fmt: skip
_HEAD: Final = (
    Phrase("Cultivar"), Phrase("Supplier"), Phrase("Batches"), Phrase("Received"),
    Phrase("Rotten"), Phrase("Planted"), Phrase("First cut"), Phrase("Stems"), Phrase("A corm"),
    Phrase("Culls"), *CONDITIONS,
)  # fmt: skip
_PARTED: Final = "stems"


@dataclass(frozen=True, slots=True)
class Lot:
    """One crop, cultivar and supplier in a year.

    ``was`` is the rooting stage of its batches together, weighed by their days;
    ``life_known`` the share of their whole lives whose air is known.
    """

    crop: str
    cultivar: str
    supplier: str | None
    batches: tuple[int, ...]
    came: Yield
    was: Conditions | None
    life_known: float | None


@dataclass(frozen=True, slots=True)
class YearSheet:
    """A year's lots by crop, cultivar and supplier."""

    farm: Farm
    year: int
    voice: Voice
    lots: tuple[Lot, ...]

    def page(self) -> Sheet:
        """Return the page, a table a crop."""
        by_crop: dict[str, list[Lot]] = defaultdict(list)
        for lot in self.lots:
            by_crop[lot.crop].append(lot)
        tables = [
            Table(
                crop_name(self.farm, crop), _HEAD, [_row(lot, self.voice) for lot in lots],
                frozenset({*range(3, 6), *range(7, 16)}),
            )
            for crop, lots in sorted(by_crop.items())
        ]  # fmt: skip
        none = [] if tables else [Phrase("No batch began in {year}.", year=self.year)]
        return Sheet(
            title=Phrase("Year sheet {year}", year=self.year),
            line=Phrase("Batches that began in the year, with what was parted and cut from them"),
            farm=self.farm.name,
            tables=tables,
            notes=[
                *none,
                Phrase(
                    "The columns from Days to Harm tell of the pre-sprout stage. "
                    "A corm: stems cut for each corm planted."
                ),
                HOURLY,
            ],
            cautions=CAUTIONS,
        )


def year_sheet(sources: Sources, year: int | None = None) -> YearSheet:
    """Make the sheet of a year, or of the newest year in which a batch began.

    Raises
    ------
    StoreError
        If a file of the store cannot be read.
    """
    record, voice = record_of(sources.ledger), sources.voice
    first = [each for each in record.book.batches.values() if not _parted(each)]
    years = [voice.date(each.stays[0].since_ms).year for each in first]
    wanted = year if year is not None else max(years, default=voice.date(sources.now_ms).year)
    stores = stores_of(sources.farm, record, sources.reader, hourly=True)
    grouped: dict[tuple[str, str, str | None], list[Batch]] = defaultdict(list)
    for each, began in zip(first, years, strict=True):
        if began == wanted:
            grouped[each.crop, each.cultivar, each.supplier].append(each)
    lots = []
    for key, batches in grouped.items():
        told = [subject(stores, record, each.id, sources.now_ms).history for each in batches]
        came = [yield_of(sources.farm, record, each) for each in batches]
        was = [found for each in told if (found := conditions(each, ROOTING_STAGE)) is not None]
        known = whole([stage for each in told for stage in each.stages])
        ids = tuple(each.id for each in batches)
        lots.append(Lot(*key, ids, _together(came), _mean(was), known))
    lots.sort(key=lambda lot: (lot.crop, lot.cultivar, lot.supplier or ""))
    return YearSheet(sources.farm, wanted, voice, tuple(lots))


def years_with_history(sources: Sources) -> range:
    """Return the years from that of the first batch to this one.

    Raises
    ------
    StoreError
        If the ledger cannot be read.
    """
    batches, voice = record_of(sources.ledger).book.batches.values(), sources.voice
    years = [voice.date(each.stays[0].since_ms).year for each in batches]
    this_year = voice.date(sources.now_ms).year
    return range(min([*years, this_year]), max([*years, this_year]) + 1)


def _parted(batch: Batch) -> bool:
    return bool(batch.parents) or batch.unit == _PARTED


def _sum(values: Sequence[int | None]) -> int | None:
    known = [each for each in values if each is not None]
    return sum(known) if known else None


def _least(values: Sequence[int | None]) -> int | None:
    return min((each for each in values if each is not None), default=None)


def _together(came: Sequence[Yield]) -> Yield:
    return Yield(
        received=_sum([each.received for each in came]),
        rotten=_sum([each.rotten for each in came]),
        planted=_sum([each.planted for each in came]),
        planted_ms=_least([each.planted_ms for each in came]),
        first_cut_ms=_least([each.first_cut_ms for each in came]),
        stems=sum(each.stems for each in came),
        culls=sum(each.culls for each in came),
        rough=any(each.rough for each in came),
    )


def _mean(was: Sequence[Conditions]) -> Conditions | None:
    """Return the stages of several batches as one: sums of hours, means by known days."""
    days = sum(each.days for each in was)
    if not was or days <= 0:
        return None
    outs = [each.out_h for each in was if each.out_h is not None]
    return Conditions(
        days=days / len(was),
        coverage=sum(each.coverage * each.days for each in was) / days,
        in_band=_weighed([(each.in_band, each.coverage * each.days) for each in was]),
        mean_c=_weighed([(each.mean_c, each.coverage * each.days) for each in was]),
        thermal_cd=None,
        out_h=sum(outs) if outs else None,
        harm_h=sum(each.harm_h for each in was),
    )


def _weighed(pairs: Sequence[tuple[float | None, float]]) -> float | None:
    known = [(value, weight) for value, weight in pairs if value is not None and weight > 0]
    whole_weight = sum(weight for _, weight in known)
    return sum(value * weight for value, weight in known) / whole_weight if known else None


def _plain(lot: Lot) -> dict[str, Any]:
    came, was = lot.came, lot.was

    def digits(value: float | None, number: int) -> float | None:
        return None if value is None else round(value, number)

    figures = (None,) * 6 if was is None else (
        round(was.days, 2), round(was.coverage, 4), digits(was.in_band, 4), digits(was.mean_c, 2),
        digits(was.out_h, 2), round(was.harm_h, 2),
    )  # fmt: skip
    values = (
        lot.crop, lot.cultivar or None, lot.supplier, list(lot.batches), came.received, came.rotten,
        came.planted, iso_utc(came.first_cut_ms), came.stems if came.first_cut_ms else None,
        digits(came.stems_a_corm, 2), came.culls, *figures, digits(lot.life_known, 4),
    )  # fmt: skip
    return dict(zip(YEARLY, values, strict=True))


def year_json(sheet: YearSheet) -> dict[str, Any]:
    """Return a year sheet; what is missing is null."""
    return {
        "year": sheet.year,
        "lots": [_plain(lot) for lot in sheet.lots],
        "notes": list(sheet.page().notes),
    }


def year_rows(sheet: YearSheet) -> Iterator[tuple[str, ...]]:
    """Yield the rows for CSV; what is not known is empty."""
    for lot in sheet.lots:
        plain = _plain(lot) | {"batches": " ".join(map(str, lot.batches))}
        yield tuple("" if cell is None else str(cell) for cell in plain.values())


def say_year(sheet: YearSheet) -> list[str]:
    """Return a year sheet as lines for a terminal."""
    page = sheet.page()
    lines = [page.title, page.line]
    for table in page.tables:
        lines += ["", *lines_of(table)]
    return [*lines, "", *page.notes]


def _row(lot: Lot, voice: Voice) -> tuple[str, ...]:
    came = lot.came
    rotten = "" if came.rotten is None else f"{came.rotten:,}"
    if came.rotten and came.received:
        share = percent(came.rotten / came.received)
        rotten = Phrase("{number} ({share})", number=rotten, share=share)
    return (
        lot.cultivar, lot.supplier or "", ", ".join(map(str, lot.batches)), _count(came.received),
        rotten, _count(came.planted), _day(came.first_cut_ms, voice),
        _count(came.stems) if came.first_cut_ms else "",
        "" if came.stems_a_corm is None else f"{came.stems_a_corm:.1f}", _count(came.culls),
        *say_conditions(lot.was, voice),
    )  # fmt: skip


def _count(number: int | None) -> str:
    return "" if number is None else f"{number:,}"


def _day(at_ms: int | None, voice: Voice) -> str:
    return "" if at_ms is None else with_year(voice.date(at_ms))
