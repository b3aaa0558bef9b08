"""Reports as pages that print well: one HTML file, complete in itself."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from jinja2 import Template

from monitor.alarms.told import title_of
from monitor.batches.combining import Disagreement
from monitor.batches.counts import counted
from monitor.batches.readiness import Forecast
from monitor.batches.telling import place_name, say_entry, stage_name
from monitor.batches.verdict import ADVICE, SAID, Good, Pull
from monitor.batches.voice import Voice, listed, span
from monitor.days import with_year
from monitor.farm import Calibration, format_when
from monitor.model import Alarm, Band, Harm, Ideal, Quantity
from monitor.phrase import Capital, Phrase, together
from monitor.report import chart
from monitor.report.making import CAUTIONS, Report
from monitor.report.tables import Sheet
from monitor.report.telling import (
    NAMES,
    say_area,
    say_coverage,
    say_in_band,
    say_more,
    say_out,
    say_value,
    worth_telling,
)
from monitor.report.wetness import say_wet, wet_by_stage
from monitor.speaking import templates
from monitor.units import difference_from_celsius

_MOST_OUTS: Final = 4
_MOST_ENTRIES: Final = 20
_MOST_ALARMS: Final = 8
_GOOD: Final = {Good.YES: "yes", Good.DOUBTFUL: "doubtful", Good.NO: "no"}
_MARKS: Final = {
    Pull.LOOK: Phrase("look"), Pull.WAIT: Phrase("wait"), Pull.DOUBT: Phrase("not known"),
    Pull.FOR: Phrase("in favour"), Pull.NOTE: "",
}  # fmt: skip
_GRADES: Final = {
    "P": Phrase("published"), "E": Phrase("extension or trade"),
    "G": Phrase("growers' convention"), "CP": Phrase("common practice"),
    "?": Phrase("from memory"), "farm": Phrase("the farm's own setting"),
}  # fmt: skip


@lru_cache(maxsize=3)
def template(name: str) -> Template:
    """Return the template of a page that is complete in itself."""
    return templates().get_template(name)


def report_html(report: Report, back: str = "") -> str:
    """Return the page of one batch; ``back`` is the path of the page it was opened from."""
    told, farm = report.told, report.farm
    verdict = report.verdict
    head = together((SAID[verdict.answer], verdict.condition or ""), ", ")
    return template("report.html").render(
        title=report.title,
        farm_name=farm.name,
        as_of=format_when(told.now_ms, farm.zone),
        facts=list(_facts(report)),
        verdict=head,
        answer=verdict.answer.value,
        promise=verdict.promise and verdict.promise.why,
        reasons=[(_MARKS[each.pull], each.pull.value, each.text) for each in verdict.reasons],
        cost=verdict.cost_of_waiting,
        advice=ADVICE,
        readiness=_readiness(report),
        charts=_charts(report),
        frame=chart,
        stages=list(_stages(report)),
        seen=_seen(report),
        seen_before=max(0, len(told.entries) - _MOST_ENTRIES),
        alarms=[_alarm(each, report) for each in told.alarms[:_MOST_ALARMS]],
        alarms_before=max(0, len(told.alarms) - _MOST_ALARMS),
        sensors=list(_sensors(report)),
        limits=_limits(report),
        notes=report.notes,
        cautions=CAUTIONS,
        back=back,
    )


def table_html(sheet: Sheet, back: str = "") -> str:
    """Return a page of tables: a comparison, or the year sheet; ``back`` as above."""
    return template("report_table.html").render(sheet=sheet, back=back)


def _facts(report: Report) -> Iterator[tuple[str, str]]:
    batch, farm, voice = report.told.batch, report.farm, report.voice
    last = batch.stays[-1]
    where = Phrase(
        "{stage} in {place}",
        stage=stage_name(farm, batch.crop, last.stage),
        place=place_name(farm, last.place),
    )
    if batch.ended_ms is None:
        yield Phrase("Now"), where
    else:
        yield Phrase("Ended"), together((voice.when(batch.ended_ms), where), ", ")
    yield Phrase("Count"), counted(batch.count, batch.unit, rough=batch.rough)
    given = (
        (Phrase("Supplier"), batch.supplier), (Phrase("Lot"), batch.lot),
        (Phrase("Grade"), batch.grade), (Phrase("Received"), batch.received),
        (Phrase("Rotten"), batch.rotten), (Phrase("Held for"), batch.held_for),
        (Phrase("Out of batch"), ", ".join(map(str, batch.parents)) or None),
    )  # fmt: skip
    yield from ((name, str(value)) for name, value in given if value is not None)


def _readiness(report: Report) -> str | None:
    told, voice = report.judged.forecast, report.voice
    if told is None:
        return None
    ready, long = told.ready, told.too_long
    return Phrase(
        "Most of the batch ready {ready} (four times in five between {early} and {late}); roots "
        "too long {long} ({long_early} to {long_late}). "
        "From {basis}, and common practice of one to two weeks.",
        ready=voice.day(ready.middle_ms),
        early=voice.day(ready.early_ms),
        late=voice.day(ready.late_ms),
        long=voice.day(long.middle_ms),
        long_early=voice.day(long.early_ms),
        long_late=voice.day(long.late_ms),
        basis=_basis(told),
    )


def _basis(told: Forecast) -> str:
    samples = (
        Phrase("1 sample")
        if told.samples == 1
        else Phrase("{number} samples of this batch", number=told.samples)
    )
    if not told.learned_from:
        return samples
    earlier = (
        Phrase("1 earlier batch")
        if told.learned_from == 1
        else Phrase("{number} earlier batches", number=told.learned_from)
    )
    return listed([samples, earlier])


def _charts(report: Report) -> list[chart.Chart]:
    batch = report.told.batch
    crop = report.farm.crops.get(batch.crop)
    names = (
        {each: stage_name(report.farm, batch.crop, each) for each in crop.stages} if crop else {}
    )
    drawn = [chart.draw(each, report.told.met, names, report.voice) for each in NAMES]
    return [each for each in drawn if each is not None]


@dataclass(frozen=True, slots=True)
class StageRow:
    """One stage of the page: its line, its quantities' cells, its times out."""

    name: str
    where: str
    rows: tuple[tuple[str, ...], ...]
    wet: str
    outs: tuple[str, ...]
    more: str


def _stages(report: Report) -> Iterator[StageRow]:
    voice, batch, wet = report.voice, report.told.batch, wet_by_stage(report.told)
    for stage in report.history.stages:
        outs, more = worth_telling(stage, _MOST_OUTS)
        places = ", ".join(place_name(report.farm, each) for each in stage.places)
        yield StageRow(
            name=stage_name(report.farm, batch.crop, stage.stage),
            where=Phrase(
                "{places}: {since} to {until}",
                places=places, since=voice.when(stage.since_ms), until=voice.when(stage.until_ms),
            ),
            rows=tuple(
                (
                    NAMES[told.quantity], say_coverage(told), say_in_band(told),
                    *(
                        "" if each is None else say_value(each, told.quantity, voice)
                        for each in (told.mean, told.low, told.high)
                    ),
                    say_area(told, voice), _apart(told.disagreement, told.quantity, voice),
                )
                for told in stage.quantities.values()
            ),
            wet=say_wet(wet[stage.stage]) if stage.stage in wet else "",
            outs=tuple(say_out(each, voice) for each in outs),
            more=say_more(more, after=bool(outs)) if more else "",
        )  # fmt: skip


def _apart(found: Disagreement | None, quantity: Quantity, voice: Voice) -> str:
    """Return how far the sensors lay apart: on the mean and at most."""
    if found is None:
        return ""
    if quantity is Quantity.HUMIDITY:
        mean, largest = f"{found.mean:.0f}", f"{found.largest:.0f} %"
    else:
        mean = f"{difference_from_celsius(found.mean, voice.unit):.1f}"
        apart = difference_from_celsius(found.largest, voice.unit)
        largest = f"{apart:.1f} °{voice.unit.value}"
    return Phrase("{mean}, at most {largest}", mean=mean, largest=largest)


def _seen(report: Report) -> list[tuple[str, str, str]]:
    told, farm = report.told, report.farm
    return [
        (
            format_when(entry.at_ms, farm.zone),
            together(
                (
                    say_entry(farm, told.batch, entry),
                    Phrase("[undone]") if entry.id in told.book.undone else "",
                )
            ),
            entry.by,
        )
        for entry in sorted(told.entries, key=lambda e: (e.at_ms, e.id))[-_MOST_ENTRIES:]
    ]


def _alarm(alarm: Alarm, report: Report) -> dict[str, str]:
    voice, by = report.voice, alarm.acknowledged_by
    ended = (
        Phrase("still on")
        if alarm.returned_ms is None
        else Phrase("until {time}", time=voice.when(alarm.returned_ms))
    )
    return {
        "title": title_of(alarm),
        "when": together((voice.when(alarm.began_ms), ended), ", "),
        "who": Phrase("acknowledged by {by}", by=by) if by else "",
    }


def _sensors(report: Report) -> Iterator[tuple[str, str, str]]:
    for sensor in report.sensors:
        place = place_name(report.farm, sensor.place)
        said = [
            together((_name(spec.quantity), _calibration(each, spec.quantity, report.voice)))
            for spec in sensor.channels
            for each in spec.calibrations
        ]
        hangs = f", {sensor.hangs}" if sensor.hangs else ""
        yield (
            sensor.name,
            f"{place}{hangs}",
            (together(said, "; ") or Phrase("no calibration recorded")),
        )


def _name(quantity: Quantity) -> str:
    return NAMES.get(quantity, quantity.value)


def _calibration(each: Calibration, quantity: Quantity, voice: Voice) -> str:
    day = voice.date(each.since_ms)
    if quantity is Quantity.HUMIDITY:
        moved = f"{each.offset:+.1f} %"
    else:
        moved = f"{difference_from_celsius(each.offset, voice.unit):+.1f} °{voice.unit.value}"
    slope = "" if each.slope == 1.0 else Phrase(" and times {slope:g}", slope=each.slope)
    return Phrase("{moved}{slope} since {day}", moved=moved, slope=slope, day=with_year(day))


def _limits(report: Report) -> list[tuple[str, str, str]]:
    """Return each limit once, with all the stages it held in, its figures and its source."""
    found: dict[tuple[str, str, str], list[str]] = {}
    for part, _ in report.told.met:
        stage = stage_name(report.farm, report.told.batch.crop, part.stage)
        for quantity, band in part.bands.items():
            for row in _band_rows(_name(quantity), quantity, band, report.voice):
                stages = found.setdefault(row, [])
                if stage not in stages:
                    stages.append(stage)
    return [
        (Phrase("{what}: {stages}", what=what, stages=together(stages, ", ")), figures, source)
        for (what, figures, source), stages in found.items()
    ]


def _band_rows(
    what: str, quantity: Quantity, band: Band, voice: Voice
) -> Iterator[tuple[str, str, str]]:
    kinds = ((Phrase("{what}, ideal"), band.ideal), (Phrase("{what}, harm"), band.harm))
    for kind, limits in kinds:
        if limits is None:
            continue
        grade = Phrase(
            "{grade} ({meaning}): {source}",
            grade=limits.grade.value,
            meaning=_GRADES[limits.grade.value],
            source=limits.source,
        )
        yield Phrase(kind, what=Capital(what)), _range(limits, quantity, voice), grade


def _range(limits: Ideal | Harm, quantity: Quantity, voice: Voice) -> str:
    low, high = (
        None if each is None else say_value(each, quantity, voice)
        for each in (limits.low, limits.high)
    )
    if isinstance(limits, Harm):
        sides = (
            (Phrase("under {value} for {span}"), low, limits.tolerated_low_s),
            (Phrase("over {value} for {span}"), high, limits.tolerated_high_s),
        )
        return together(
            (
                Phrase(side, value=value, span=span(lasts))
                for side, value, lasts in sides
                if value is not None
            ),
            "; ",
        )
    if low is not None and high is not None:
        return Phrase("{low} to {high}", low=low, high=high)
    if low is not None:
        return Phrase("{limit} or more", limit=low)
    return "" if high is None else Phrase("{limit} or less", limit=high)
