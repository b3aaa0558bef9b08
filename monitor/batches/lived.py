"""What a batch lived through, as reasons: harm, drift, hours unknown, and what was seen."""

from collections.abc import Iterator, Sequence
from typing import Final

from monitor.batches.book import Observation
from monitor.batches.history import StageHistory
from monitor.batches.outside import Depth, TimeOut
from monitor.batches.unknown import Unknown
from monitor.batches.verdict import Pull, Reason
from monitor.batches.voice import Voice, listed, span
from monitor.model import Quantity, Side
from monitor.phrase import Phrase

_NOTHING: Final = frozenset({"", "0", "-", "no", "none", "nothing", "not any", "no mould", "firm"})
_KINDS: Final = {"mould": Phrase("Mould"), "softness": Phrase("Softness")}
_SHORT_S: Final = 300.0


def health_reasons(observations: Sequence[Observation], voice: Voice) -> Iterator[Reason]:
    """Yield what people saw since the batch was last all fine: mould, softness."""
    since = max((n for n, seen in enumerate(observations) if seen.all_fine), default=-1)
    for seen in observations[since + 1 :]:
        for kind, said in (("mould", seen.mould), ("softness", seen.softness)):
            if said is not None and said.strip().casefold() not in _NOTHING:
                text = Phrase(
                    "{kind} seen {day} by {by}: {said}.",
                    kind=_KINDS[kind],
                    day=voice.day(seen.at_ms),
                    by=seen.by,
                    said=said,
                )
                yield Reason(kind, Pull.LOOK, text, {"at_ms": seen.at_ms})


def lived_reasons(
    stages: Sequence[StageHistory],
    unknown: Sequence[Unknown],
    observations: Sequence[Observation],
    now_stage: str,
    voice: Voice,
) -> list[Reason]:
    """Return what its history says: harm of every stage, drift of the one it is in."""
    fine_ms = max((each.at_ms for each in observations if each.all_fine), default=None)
    found = [_harm(stage, out, fine_ms, voice) for stage in stages for out in _harms(stage)]
    found += [_used_up(stage, voice) for stage in stages if _used_up_ms(stage) is not None]
    here = next((each for each in stages if each.stage == now_stage), None)
    if here is not None:
        found += _drift(here, harmed=any(_harms(here)), voice=voice)
    found += _unknown([each for each in unknown if each.stage == now_stage], fine_ms, voice)
    return found


def _harms(stage: StageHistory) -> list[TimeOut]:
    return [out for out in stage.excursions if out.depth is Depth.HARM and out.too_long]


_WHAT: Final = {
    Quantity.TEMPERATURE: Phrase("Air"),
    Quantity.HUMIDITY: Phrase("Humidity"),
    Quantity.SOIL_TEMPERATURE: Phrase("Soil"),
}


def _level(quantity: Quantity, value: float, voice: Voice) -> str:
    return f"{value:.0f} %" if quantity is Quantity.HUMIDITY else voice.degrees(value)


def _harm(stage: StageHistory, out: TimeOut, fine_ms: int | None, voice: Voice) -> Reason:
    after = fine_ms is not None and fine_ms > out.until_ms
    looked = (
        Phrase("; all fine {day}", day=voice.day(fine_ms)) if after and fine_ms is not None else ""
    )
    unseen = "" if out.began and out.ended else Phrase(" or longer, as a gap cuts it")
    text = Phrase(
        "{what} under the harm limit of {limit} for {span}{unseen} {days}, "
        "to {peak} ({tolerated} tolerated){looked}."
        if out.side is Side.LOW
        else "{what} over the harm limit of {limit} for {span}{unseen} {days}, "
        "to {peak} ({tolerated} tolerated){looked}.",
        what=_WHAT[out.quantity],
        limit=_level(out.quantity, out.limit, voice),
        span=span(out.duration_s),
        unseen=unseen,
        days=voice.on_days([out.from_ms]),
        peak=_level(out.quantity, out.peak, voice),
        tolerated=span(out.tolerated_s or 0),
        looked=looked,
    )
    figures = {
        "stage": stage.stage, "quantity": out.quantity.value, "side": out.side.value,
        "limit": out.limit, "peak": out.peak, "duration_s": out.duration_s, "from_ms": out.from_ms,
    }  # fmt: skip
    return Reason("harm", Pull.NOTE if after else Pull.LOOK, text, figures)


def _used_up_ms(stage: StageHistory) -> int | None:
    known = [each.used_up_ms for each in stage.quantities.values() if each.used_up_ms is not None]
    return min(known, default=None)


def _used_up(stage: StageHistory, voice: Voice) -> Reason:
    at_ms = _used_up_ms(stage) or 0
    text = Phrase(
        "The whole time tolerated beyond a harm limit was used up {when}.", when=voice.when(at_ms)
    )
    return Reason("harm", Pull.LOOK, text, {"stage": stage.stage, "at_ms": at_ms})


def _drift(stage: StageHistory, *, harmed: bool, voice: Voice) -> list[Reason]:
    air = stage.quantities.get(Quantity.TEMPERATURE)
    if air is None or air.in_band_s is None or air.known_s <= 0:
        return []
    outs = [each for each in air.excursions if each.depth is Depth.DRIFT]
    out_s = air.known_s - air.in_band_s
    figures = {"out_s": out_s, "in_band_share": air.in_band_share, "runs": len(outs)}
    if out_s < _SHORT_S:
        text = Phrase("In its ideal band throughout the {span} known.", span=span(air.known_s))
        return [Reason("drift", Pull.NOTE, text, figures)]
    near = "" if harmed else _how_near(air.excursions)
    when = voice.on_days([each.from_ms for each in outs])
    text = Phrase(
        "Out of its ideal band {span} {when}, {ends}{near}.",
        span=span(out_s),
        when=when,
        ends=_span_of(outs, voice),
        near=near,
    )
    return [Reason("drift", Pull.NOTE, text, figures)]


def _span_of(outs: Sequence[TimeOut], voice: Voice) -> str:
    ends = [
        Phrase(
            "down to {degrees}" if side is Side.LOW else "up to {degrees}",
            degrees=voice.degrees(worst(peaks)),
        )
        for side, worst in ((Side.LOW, min), (Side.HIGH, max))
        if (peaks := [each.peak for each in outs if each.side is side])
    ]
    return listed(ends)


def _how_near(outs: Sequence[TimeOut]) -> str:
    """Return whether harm limits were touched, though never for as long as tolerated."""
    touched = [each for each in outs if each.depth is Depth.HARM]
    if not touched:
        return Phrase(", never at harm")
    longest = max(each.duration_s for each in touched)
    return Phrase(
        ", beyond a harm limit for {span} at most, which is tolerated", span=span(longest)
    )


def _unknown(runs: Sequence[Unknown], fine_ms: int | None, voice: Voice) -> list[Reason]:
    """Return the hours that are not known: a doubt only where they could hide harm."""
    hiding = [
        each for each in runs if each.hides_harm and (fine_ms is None or fine_ms < each.until_ms)
    ]
    found = []
    for each in hiding:
        text = Phrase(
            "{span} {days} unknown, long enough to hide harm: look for soft, frozen "
            "or mouldy ones.",
            span=span(each.duration_s),
            days=voice.on_days([each.from_ms]),
        )
        figures = {"from_ms": each.from_ms, "until_ms": each.until_ms}
        found.append(Reason("unknown", Pull.DOUBT, text, figures))
    rest = [each for each in runs if each not in hiding]
    if rest:
        whole_s = sum(each.duration_s for each in rest)
        text = Phrase(
            "{span} {days} unknown",
            span=span(whole_s),
            days=voice.on_days([each.from_ms for each in rest]),
        )
        why = (
            Phrase("seen all fine since")
            if any(each.hides_harm for each in rest)
            else Phrase("too short to harm")
        )
        found.append(
            Reason(
                "unknown",
                Pull.NOTE,
                Phrase("{text}, {why}.", text=text, why=why),
                {"unknown_s": whole_s},
            )
        )
    return found
