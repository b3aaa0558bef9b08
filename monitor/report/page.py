"""Reports as pages that print well: one HTML file, complete in itself."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

from jinja2 import Template

from monitor.alarms.listing import alarm_json
from monitor.batches.combining import Disagreement
from monitor.batches.counts import counted
from monitor.batches.telling import place_name, say_entry, stage_name
from monitor.batches.verdict import ADVICE, SAID, Good, Pull
from monitor.batches.voice import Voice, span
from monitor.farm import Calibration, format_when
from monitor.model import Alarm, Band, Harm, Ideal, Quantity
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
    Pull.LOOK: "look", Pull.WAIT: "wait", Pull.DOUBT: "not known", Pull.FOR: "in favour",
    Pull.NOTE: "",
}  # fmt: skip
_GRADES: Final = {
    "P": "published", "E": "extension or trade", "G": "growers' convention",
    "CP": "common practice", "?": "from memory", "farm": "the farm's own setting",
}  # fmt: skip


@lru_cache(maxsize=3)
def template(name: str) -> Template:
    """Return the template of a page that is complete in itself."""
    return templates().get_template(name)


def report_html(report: Report, back: str = "") -> str:
    """Return the page of one batch; ``back`` is the path of the page it was opened from."""
    told, farm = report.told, report.farm
    verdict = report.verdict
    head = SAID[verdict.answer] + (f", {verdict.condition}" if verdict.condition else "")
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
    stage = stage_name(farm, batch.crop, last.stage)
    if batch.ended_ms is None:
        yield "Now", f"{stage} in {place_name(farm, last.place)}"
    else:
        yield "Ended", f"{voice.when(batch.ended_ms)}, {stage} in {place_name(farm, last.place)}"
    yield "Count", counted(batch.count, batch.unit, rough=batch.rough)
    given = (
        ("Supplier", batch.supplier), ("Lot", batch.lot), ("Grade", batch.grade),
        ("Received", batch.received), ("Rotten", batch.rotten), ("Held for", batch.held_for),
        ("Out of batch", ", ".join(map(str, batch.parents)) or None),
    )  # fmt: skip
    yield from ((name, str(value)) for name, value in given if value is not None)


def _readiness(report: Report) -> str | None:
    told, voice = report.judged.forecast, report.voice
    if told is None:
        return None
    ready, long = told.ready, told.too_long
    basis = [f"{told.samples} samples of this batch" if told.samples != 1 else "1 sample"]
    if told.learned_from:
        plural = "es" if told.learned_from > 1 else ""
        basis.append(f"{told.learned_from} earlier batch{plural}")
    return (
        f"Most of the batch ready {voice.day(ready.middle_ms)} (four times in five between "
        f"{voice.day(ready.early_ms)} and {voice.day(ready.late_ms)}); roots too long "
        f"{voice.day(long.middle_ms)} ({voice.day(long.early_ms)} to {voice.day(long.late_ms)}). "
        f"From {' and '.join(basis)}, and common practice of one to two weeks."
    )


def _charts(report: Report) -> list[chart.Chart]:
    batch = report.told.batch
    crop = report.farm.crops.get(batch.crop)
    names = {each.id: each.name for each in crop.stages.values()} if crop else {}
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
            where=f"{places}: {voice.when(stage.since_ms)} to {voice.when(stage.until_ms)}",
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
        return f"{found.mean:.0f}, at most {found.largest:.0f} %"
    mean, largest = (difference_from_celsius(v, voice.unit) for v in (found.mean, found.largest))
    return f"{mean:.1f}, at most {largest:.1f} °{voice.unit.value}"


def _seen(report: Report) -> list[tuple[str, str, str]]:
    told, farm = report.told, report.farm
    return [
        (
            format_when(entry.at_ms, farm.zone),
            say_entry(farm, told.batch, entry)
            + (" [undone]" if entry.id in told.book.undone else ""),
            entry.by,
        )
        for entry in sorted(told.entries, key=lambda e: (e.at_ms, e.id))[-_MOST_ENTRIES:]
    ]


def _alarm(alarm: Alarm, report: Report) -> dict[str, Any]:
    shown = alarm_json(alarm)
    voice = report.voice
    ended = "still on" if alarm.returned_ms is None else f"until {voice.when(alarm.returned_ms)}"
    who = f"acknowledged by {alarm.acknowledged_by}" if alarm.acknowledged_by else ""
    return {"title": shown["title"], "when": f"{voice.when(alarm.began_ms)}, {ended}", "who": who}


def _sensors(report: Report) -> Iterator[tuple[str, str, str]]:
    for sensor in report.sensors:
        place = place_name(report.farm, sensor.place)
        said = [
            f"{_name(spec.quantity)} {_calibration(each, spec.quantity, report.voice)}"
            for spec in sensor.channels
            for each in spec.calibrations
        ]
        hangs = f", {sensor.hangs}" if sensor.hangs else ""
        yield sensor.name, f"{place}{hangs}", "; ".join(said) or "no calibration recorded"


def _name(quantity: Quantity) -> str:
    return NAMES.get(quantity, quantity.value)


def _calibration(each: Calibration, quantity: Quantity, voice: Voice) -> str:
    day = voice.date(each.since_ms)
    if quantity is Quantity.HUMIDITY:
        moved = f"{each.offset:+.1f} %"
    else:
        moved = f"{difference_from_celsius(each.offset, voice.unit):+.1f} °{voice.unit.value}"
    slope = "" if each.slope == 1.0 else f" and times {each.slope:g}"
    return f"{moved}{slope} since {day.day} {day:%b %Y}"


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
        (f"{what}: {', '.join(stages)}", figures, source)
        for (what, figures, source), stages in found.items()
    ]


def _band_rows(
    what: str, quantity: Quantity, band: Band, voice: Voice
) -> Iterator[tuple[str, str, str]]:
    for kind, limits in (("ideal", band.ideal), ("harm", band.harm)):
        if limits is None:
            continue
        grade = f"{limits.grade.value} ({_GRADES[limits.grade.value]}): {limits.source}"
        yield f"{what.capitalize()}, {kind}", _range(limits, quantity, voice), grade


def _range(limits: Ideal | Harm, quantity: Quantity, voice: Voice) -> str:
    sides = [("under", limits.low), ("over", limits.high)]
    if isinstance(limits, Ideal):
        known = [say_value(each, quantity, voice) for _, each in sides if each is not None]
        if len(known) == 2:  # noqa: PLR2004 - both sides
            return " to ".join(known)
        return f"{known[0]} or {'more' if limits.low is not None else 'less'}" if known else ""
    times = (limits.tolerated_low_s, limits.tolerated_high_s)
    return "; ".join(
        f"{side} {say_value(value, quantity, voice)} for {span(lasts)}"
        for (side, value), lasts in zip(sides, times, strict=True)
        if value is not None
    )
