"""A report in plain words: for the terminal, and for the tables of the page."""

from collections.abc import Iterator
from typing import Final

from monitor.batches.history import QuantityHistory, StageHistory
from monitor.batches.outside import Depth, TimeOut
from monitor.batches.telling import place_name, stage_name
from monitor.batches.verdict import ADVICE
from monitor.batches.voice import Voice, listed, percent, span
from monitor.model import Quantity, Side
from monitor.phrase import Phrase
from monitor.report.making import Report
from monitor.report.wetness import say_wet, wet_by_stage
from monitor.units import difference_from_celsius

NAMES: Final = {
    Quantity.TEMPERATURE: Phrase("air"), Quantity.HUMIDITY: Phrase("humidity"),
    Quantity.SOIL_TEMPERATURE: Phrase("soil"),
}  # fmt: skip
UNKNOWN: Final = Phrase("not known")
_BEYOND: Final = {
    (Depth.HARM, Side.LOW): Phrase("{what} under harm limit {limit}"),
    (Depth.HARM, Side.HIGH): Phrase("{what} over harm limit {limit}"),
    (Depth.DRIFT, Side.LOW): Phrase("{what} under ideal {limit}"),
    (Depth.DRIFT, Side.HIGH): Phrase("{what} over ideal {limit}"),
}


def say_value(value: float | None, quantity: Quantity, voice: Voice) -> str:
    """Return a value in the farm's unit; ``not known`` where it is missing."""
    if value is None:
        return UNKNOWN
    return f"{value:.0f} %" if quantity is Quantity.HUMIDITY else voice.degrees(value, 1)


def say_area(told: QuantityHistory, voice: Voice) -> str:
    """Return degree-hours outside the ideal band, in the farm's unit."""
    if told.in_band_s is None or told.known_s <= 0:
        return ""
    if told.quantity is Quantity.HUMIDITY:
        return f"{told.degree_hours:.0f} % h"
    area = difference_from_celsius(told.degree_hours, voice.unit)
    return f"{area:.0f} °{voice.unit.value} h"


def say_coverage(told: QuantityHistory) -> str:
    """Return the hours known as a share and of how many."""
    return Phrase("{share} of {span}", share=percent(told.coverage), span=span(told.length_s))


def say_in_band(told: QuantityHistory) -> str:
    """Return the share of the known time in the ideal band; empty where there is none."""
    return "" if told.in_band_share is None else percent(told.in_band_share)


def say_out(out: TimeOut, voice: Voice) -> str:
    """Return one time out in a line."""
    beyond = Phrase(
        _BEYOND[out.depth, out.side],
        what=NAMES[out.quantity],
        limit=say_value(out.limit, out.quantity, voice),
    )
    return Phrase(
        "{when}, {beyond} for {span}{more}, to {peak}{tolerated}",
        when=voice.when(out.from_ms),
        beyond=beyond,
        span=span(out.duration_s),
        more="" if out.began and out.ended else Phrase(" or longer, a gap cuts it"),
        peak=say_value(out.peak, out.quantity, voice),
        tolerated=_tolerated(out),
    )


def _tolerated(out: TimeOut) -> str:
    if out.depth is not Depth.HARM or out.tolerated_s is None:
        return ""
    return Phrase(
        ", too long: {span} are" if out.too_long else ", tolerated: {span} are",
        span=span(out.tolerated_s),
    )


def worth_telling(stage: StageHistory, most: int) -> tuple[list[TimeOut], int]:
    """Return the gravest times out of a stage in order of time, and how many are left out.

    Harm comes before drift, and long before short; a drift of under five minutes is not
    worth a line.
    """
    outs = [o for o in stage.excursions if o.depth is Depth.HARM or o.duration_s >= 300]  # noqa: PLR2004
    ranked = sorted(outs, key=lambda o: (o.depth is not Depth.HARM, not o.too_long, -o.duration_s))
    kept = sorted(ranked[:most], key=lambda o: o.from_ms)
    return kept, len(stage.excursions) - len(kept)


def say_more(number: int, *, after: bool) -> str:
    """Return how many times out are not listed."""
    if after:
        return Phrase("and {number} shorter or lesser ones", number=number)
    if number > 1:
        return Phrase("{number} times out of under five minutes", number=number)
    return Phrase("once, under five minutes")


def say_report(report: Report) -> list[str]:
    """Return a report as lines for a terminal."""
    lines = [report.spoken, ADVICE, ""]
    for stage in report.history.stages:
        lines += _say_stage(report, stage)
    lines += [f"Note: {each}" for each in report.notes]
    return lines


def _say_stage(report: Report, stage: StageHistory) -> Iterator[str]:
    voice, batch = report.voice, report.told.batch
    places = listed([place_name(report.farm, each) for each in stage.places])
    name = stage_name(report.farm, batch.crop, stage.stage)
    yield f"{name} in {places}, {voice.when(stage.since_ms)} to {voice.when(stage.until_ms)}"
    for told in stage.quantities.values():
        parts = [f"{say_coverage(told)} known"]
        if told.in_band_share is not None:
            parts.append(f"{say_in_band(told)} in band")
        if told.mean is not None:
            mean, low, high = (
                say_value(each, told.quantity, voice) for each in (told.mean, told.low, told.high)
            )
            parts.append(f"mean {mean}, from {low} to {high}")
        yield f"  {NAMES[told.quantity]}: {'; '.join(parts)}"
    wet = wet_by_stage(report.told).get(stage.stage)
    if wet is not None:
        yield f"  {say_wet(wet)}"
    outs, more = worth_telling(stage, 8)
    yield from (f"  {say_out(out, voice)}" for out in outs)
    if more:
        yield f"  {say_more(more, after=bool(outs))}"
