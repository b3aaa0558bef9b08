"""Cut stems: cooler time used and left, and whether they are good for a day.

The limit is the farm's own cautious longest time, not a published one. Stems are good for
a time that lies within it even at the worst that is not known; beyond it by up to a
quarter, or within it only if all went well, they are doubtful.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from monitor.batches.ageing import BORROWED_RANGE, DAY_S, Spell, age
from monitor.batches.book import Hold, Observation
from monitor.batches.history import StageHistory
from monitor.batches.lived import health_reasons, lived_reasons
from monitor.batches.outside import Depth
from monitor.batches.sweating import Sweat, say_sweat
from monitor.batches.unknown import Unknown
from monitor.batches.verdict import Good, Promise, Pull, Reason, Verdict, judged
from monitor.batches.voice import Voice, percent, span
from monitor.model import Side
from monitor.phrase import Phrase
from monitor.science.storage_life import Q10, Limit, ageing_rate

_BEYOND: Final = 1.25
_NEARLY_USED: Final = 0.85
_SIGNS: Final = {"mould": Phrase("mould"), "softness": Phrase("softness")}


@dataclass(frozen=True, slots=True)
class Carrying:
    """Stems about to be carried into a place's air, and how they sweat there."""

    place: str
    sweat: Sweat | None


@dataclass(frozen=True, slots=True)
class Stems:
    """All that is known about stems.

    ``spells`` begin at the cutting; ``limit`` is None where the farm set no longest time;
    ``stays_at_c`` is the air they stay in from now. ``for_ms`` is when they are wanted.
    """

    stage: str
    cut_ms: int
    spells: Sequence[Spell]
    q10: Q10
    limit: Limit | None
    stays_at_c: float
    observations: Sequence[Observation]
    stages: Sequence[StageHistory]
    unknown: Sequence[Unknown]
    holds: Sequence[Hold] = ()
    for_ms: int | None = None
    carrying: Carrying | None = None


@dataclass(frozen=True, slots=True)
class _Used:
    """Days used by a time: as it seems, and at the worst. [d]"""

    likely: float
    worst: float


def stems_verdict(case: Stems, voice: Voice) -> Verdict:
    """Return how stems stand, and whether they are good for when they are wanted."""
    reasons = [
        _since_cutting(case, voice),
        *_cooler_time(case, voice),
        *health_reasons(case.observations, voice),
        *lived_reasons(case.stages, case.unknown, case.observations, case.stage, voice),
        *_sweating(case, voice),
        *_held(case),
    ]
    if case.for_ms is None:
        return judged(reasons)
    return judged(reasons, promise=_promise(case, reasons, case.for_ms, voice))


def _held(case: Stems) -> Iterator[Reason]:
    for hold in case.holds:
        text = Phrase("{count:,} held for {held_for}.", count=hold.count, held_for=hold.held_for)
        yield Reason("held", Pull.NOTE, text, {"count": hold.count, "for": hold.held_for})


def _since_cutting(case: Stems, voice: Voice) -> Reason:
    ago_s = (voice.now_ms - case.cut_ms) / 1000
    text = Phrase("Cut {span} ago ({when}).", span=span(ago_s), when=voice.when(case.cut_ms))
    return Reason("cut", Pull.NOTE, text, {"cut_ms": case.cut_ms, "since_s": ago_s})


def _cooler_time(case: Stems, voice: Voice) -> Iterator[Reason]:
    limit = case.limit
    if limit is None:
        text = Phrase(
            "The farm has set no longest time for its stems: add longest to the crop's stage."
        )
        yield Reason("cooler_time", Pull.NOTE, text)
        return
    used = age(case.spells, case.q10, limit)
    if not used.enough:
        known = span(used.known_s) if used.known_s > 0 else Phrase("none")
        text = Phrase(
            "Of {span} since cutting {known} is known: no cooler time can be told.",
            span=span(used.known_s + used.unknown_s),
            known=known,
        )
        yield Reason("cooler_time", Pull.DOUBT, text, {"unknown_s": used.unknown_s})
        return
    left = (limit.days - used.days) / _rate(case, limit, case.q10)
    figures = {
        "used_days": used.days, "worst_days": used.worst_days, "limit_days": limit.days,
        "limit_at_c": limit.at_c, "used_share": used.days / limit.days, "left_days": left,
        "q10": case.q10.factor, "q10_source": case.q10.source,
    }  # fmt: skip
    pull = Pull.NOTE if used.days <= _NEARLY_USED * limit.days else Pull.LOOK
    yield Reason("cooler_time", pull, _used(case, limit, used.days, left, voice), figures)
    if used.field_s > 0:
        yield _field(used.field_s, used.field_days, used.field_peak_c, voice)
    if used.outside_s > 0:
        text = Phrase(
            "{span} lay outside the ageing model's range and are not in it.",
            span=span(used.outside_s),
        )
        yield Reason("cooler_time", Pull.LOOK, text, {"outside_s": used.outside_s})


def _used(case: Stems, limit: Limit, days: float, left: float, voice: Voice) -> str:
    rests = (
        Phrase("by the handbook's Q10, borrowed from other flowers")
        if case.q10.borrowed
        else Phrase("by its own Q10")
    )
    more = (
        Phrase("about {left:.1f} d left in this cooler", left=left)
        if left > 0
        else Phrase("none left")
    )
    return Phrase(
        "{days:.1f} of {limit:g} days of cooler time used: {percent} of the "
        "farm's own limit at {degrees}, {rests}; {more}.",
        days=days, limit=limit.days, percent=percent(days / limit.days),
        degrees=voice.degrees(limit.at_c), rests=rests, more=more,
    )  # fmt: skip


def _field(lasted_s: float, days: float, peak_c: float | None, voice: Voice) -> Reason:
    figures = {"field_s": lasted_s, "field_days": days, "peak_c": peak_c}
    if peak_c is None:
        text = Phrase(
            "{span} between cutting and the cooler, in air that is not known.", span=span(lasted_s)
        )
        return Reason("field", Pull.NOTE, text, figures)
    text = Phrase(
        "{span} between cutting and the cooler, in air of up to {degrees}: as much "
        "as {cooler} in the cooler.",
        span=span(lasted_s),
        degrees=voice.degrees(peak_c),
        cooler=span(days * DAY_S),
    )
    return Reason("field", Pull.NOTE, text, figures)


def _rate(case: Stems, limit: Limit, q10: Q10) -> float:
    return float(ageing_rate(case.stays_at_c, q10, limit.at_c))


def _by(case: Stems, limit: Limit, q10: Q10, more_d: float) -> _Used:
    used = age(case.spells, q10, limit)
    later = max(0.0, more_d) * _rate(case, limit, q10)
    return _Used(used.days + later, used.worst_days + later)


def _promise(case: Stems, reasons: Sequence[Reason], for_ms: int, voice: Voice) -> Promise:
    asked = Phrase("Good for {when}?", when=voice.when(for_ms))
    if any(_frozen(stage) for stage in case.stages):
        return Promise(
            for_ms,
            Good.NO,
            Phrase("{asked} No: they were under the freezing limit too long.", asked=asked),
        )
    seen = next((each for each in reasons if each.kind in ("mould", "softness")), None)
    if seen is not None:
        return Promise(
            for_ms,
            Good.DOUBTFUL,
            Phrase("{asked} Doubtful: {kind} was seen.", asked=asked, kind=_SIGNS[seen.kind]),
        )
    if case.limit is None or not age(case.spells, case.q10, case.limit).enough:
        return Promise(
            for_ms,
            Good.DOUBTFUL,
            Phrase("{asked} Doubtful: their cooler time is not known.", asked=asked),
        )
    return _by_time(case, case.limit, for_ms, asked, voice)


def _by_time(case: Stems, limit: Limit, for_ms: int, asked: str, voice: Voice) -> Promise:
    more_d = (for_ms - voice.now_ms) / 1000 / DAY_S
    used = _by(case, limit, case.q10, more_d)
    said = Phrase(
        "{likely:.1f} of {days:g} days of cooler time used by then",
        likely=used.likely,
        days=limit.days,
    )
    if used.likely > _BEYOND * limit.days:
        return Promise(for_ms, Good.NO, Phrase("{asked} No: {said}.", asked=asked, said=said))
    if used.likely > limit.days:
        return Promise(
            for_ms,
            Good.DOUBTFUL,
            Phrase("{asked} Doubtful: {said}, past a cautious limit.", asked=asked, said=said),
        )
    if used.worst > limit.days:
        why = Phrase(
            "{said}, but {worst:.1f} if the unknown hours were at the harm limit",
            said=said,
            worst=used.worst,
        )
        return Promise(
            for_ms, Good.DOUBTFUL, Phrase("{asked} Doubtful: {why}.", asked=asked, why=why)
        )
    if case.q10.borrowed:
        fast = max(
            _by(case, limit, case.q10._replace(factor=each), more_d).likely
            for each in BORROWED_RANGE
        )
        if fast > limit.days:
            why = Phrase(
                "{said}, but up to {fast:.1f} by other flowers' Q10 (2.5 to 4)",
                said=said,
                fast=fast,
            )
            return Promise(
                for_ms, Good.DOUBTFUL, Phrase("{asked} Doubtful: {why}.", asked=asked, why=why)
            )
    return Promise(for_ms, Good.YES, Phrase("{asked} Yes: {said}.", asked=asked, said=said))


def _frozen(stage: StageHistory) -> bool:
    return any(
        out.depth is Depth.HARM and out.side is Side.LOW and out.too_long
        for out in stage.excursions
    )


def _sweating(case: Stems, voice: Voice) -> Iterator[Reason]:
    if case.carrying is None:
        return
    text = say_sweat(case.carrying.sweat, case.carrying.place, voice)
    found = case.carrying.sweat
    if text is not None and found is not None:
        figures = {"dew_point_c": found.dew_c, "stems_c": found.stems_c, "lasts_s": found.lasts_s}
        yield Reason("sweating", Pull.NOTE, text, figures)
