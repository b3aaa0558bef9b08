"""May this batch be planted out? Roots first, then what it lived through, then the site."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from monitor.batches.book import Observation
from monitor.batches.history import StageHistory
from monitor.batches.lived import health_reasons, lived_reasons
from monitor.batches.readiness import Forecast, Looks
from monitor.batches.site import Site, site_reasons
from monitor.batches.thermal_clock import DAY_MS
from monitor.batches.unknown import Unknown
from monitor.batches.verdict import Pull, Reason, Verdict, judged
from monitor.batches.voice import Voice, percent
from monitor.farm import RootRule
from monitor.model import Stage
from monitor.phrase import Phrase

_LIKELY: Final = 0.8
_UNLIKELY: Final = 0.2
_FRESH_D: Final = 3


@dataclass(frozen=True, slots=True)
class Planting:
    """All that is known about planting a batch out.

    ``since_ms`` is when its rooting stage began; ``forecast`` is None where the air is too
    little known. ``site`` is None where nothing is known of any place to plant into.
    """

    stage: Stage
    since_ms: int
    rule: RootRule
    observations: Sequence[Observation]
    forecast: Forecast | None
    looks: Looks
    stages: Sequence[StageHistory]
    unknown: Sequence[Unknown]
    site: Site | None


def planting_verdict(case: Planting, voice: Voice) -> Verdict:
    """Return whether a batch may be planted out, with the reasons and the cost of waiting."""
    reasons = [
        *_roots(case, voice),
        *health_reasons(case.observations, voice),
        *_overdue(case, voice),
        *lived_reasons(case.stages, case.unknown, case.observations, case.stage.id, voice),
    ]
    site, condition = ([_nowhere()], None) if case.site is None else site_reasons(case.site, voice)
    return judged([*reasons, *site], condition=condition, cost=_cost(case, voice))


def _nowhere() -> Reason:
    text = Phrase(
        "Nothing is measured where it would be planted: soil and tonight's frost are not known."
    )
    return Reason("site", Pull.DOUBT, text)


def _measured(case: Planting) -> tuple[Observation, float] | None:
    """Return the newest sample that tells the share at the farm's length."""
    for seen in reversed(case.observations):
        if seen.roots is None or seen.at_ms < case.since_ms:
            continue
        judged_by = seen.roots.at_length_mm
        if not seen.roots.lengths_mm and judged_by and judged_by < case.rule.length_mm - 0.5:
            continue
        share = seen.roots.share_at(case.rule.length_mm)
        if share is not None:
            return seen, share
    return None


def _roots(case: Planting, voice: Voice) -> Iterator[Reason]:
    found = _measured(case)
    if found is None:
        yield _unmeasured(case, voice)
        return
    seen, share = found
    said = Phrase(
        "{sample} rooted to your length ({day})",
        sample=_sample(seen, share),
        day=voice.day(seen.at_ms),
    )
    figures = {"share": share, "at_ms": seen.at_ms, "length_mm": case.rule.length_mm}
    if share >= case.rule.share:
        yield Reason("roots", Pull.FOR, Phrase("{said}.", said=said), figures)
        return
    wanted = Phrase("{said}, of {percent} wanted", said=said, percent=percent(case.rule.share))
    chance = case.forecast.chance_ready if case.forecast else None
    old = voice.now_ms - seen.at_ms > _FRESH_D * DAY_MS
    if (chance is not None and chance >= _LIKELY) or (chance is None and old):
        again = Phrase("measure a sample again")
        likely = (
            ""
            if chance is None
            else Phrase("by now ready with a chance of {percent}: ", percent=percent(chance))
        )
        yield Reason(
            "roots",
            Pull.DOUBT,
            Phrase("{wanted}; {likely}{again}.", wanted=wanted, likely=likely, again=again),
            figures,
        )
        return
    yield Reason(
        "roots",
        Pull.WAIT,
        Phrase("{wanted}{expected}.", wanted=wanted, expected=_expected(case, voice)),
        figures,
    )


def _sample(seen: Observation, share: float) -> str:
    roots = seen.roots
    of = len(roots.lengths_mm) if roots and roots.lengths_mm else (roots and roots.looked_at)
    return (
        Phrase("{number} of {of} corms", number=round(share * of), of=of)
        if of
        else Phrase("{percent} of the corms", percent=percent(share))
    )


def _expected(case: Planting, voice: Voice) -> str:
    if case.forecast is None:
        return ""
    early, _, late = case.forecast.ready
    return Phrase(
        "; most of the batch ready between {day} and {late}",
        day=voice.day(early),
        late=voice.day(late),
    )


def _unmeasured(case: Planting, voice: Voice) -> Reason:
    """Return what is held of roots that no one has measured."""
    told = case.forecast
    if told is not None:
        figures = {"chance": told.chance_ready, "expected_share": told.expected_share}
        if told.chance_ready < _UNLIKELY:
            text = Phrase(
                "No roots measured{expected}, by its warmth so far.",
                expected=_expected(case, voice),
            )
            return Reason("roots", Pull.WAIT, text, figures)
        chance = percent(told.chance_ready)
        text = Phrase(
            "No roots measured; by its warmth ready with a chance of {chance}: measure some.",
            chance=chance,
        )
        return Reason("roots", Pull.DOUBT, text, figures)
    least_s = case.stage.least_s
    if least_s is not None and voice.now_ms < case.since_ms + least_s * 1000:
        day = voice.day(case.since_ms + least_s * 1000)
        text = Phrase(
            "No roots measured, and the least time at {name} ends {day}.",
            name=Phrase(case.stage.name),
            day=day,
        )
        return Reason("roots", Pull.WAIT, text)
    text = Phrase(
        "No roots measured, and too little is known of its air to forecast them: measure some."
    )
    return Reason("roots", Pull.DOUBT, text)


def _overdue(case: Planting, voice: Voice) -> Iterator[Reason]:
    if voice.now_ms <= case.looks.due_ms + DAY_MS:
        return
    last = case.looks.last_ms
    seen = (
        Phrase("Last looked at {day}", day=voice.day(last))
        if last is not None
        else Phrase("Not looked at yet")
    )
    text = Phrase(
        "{seen}: a look for mould and moisture was due {day}.",
        seen=seen,
        day=voice.day(case.looks.due_ms),
    )
    yield Reason("look", Pull.DOUBT, text, {"due_ms": case.looks.due_ms, "last_ms": last})


def _cost(case: Planting, voice: Voice) -> str | None:
    """Return what waiting would cost: over-long roots, or the longest time of the stage."""
    too_long = voice.length(case.rule.too_long_mm)
    if case.forecast is not None:
        if case.forecast.chance_too_long >= 0.5:  # noqa: PLR2004 - more likely than not
            return Phrase(
                "Roots are likely over {too_long} already and easy to snap: plant with care.",
                too_long=too_long,
            )
        day = voice.day(case.forecast.too_long.middle_ms)
        return Phrase(
            "Waiting past {day}: roots likely over {too_long} and easy to snap.",
            day=day,
            too_long=too_long,
        )
    if case.stage.longest_s is None:
        return None
    ends_ms = case.since_ms + case.stage.longest_s * 1000
    return Phrase(
        "The longest time at {name} ends {day}: over-long roots snap."
        if ends_ms > voice.now_ms
        else "The longest time at {name} ended {day}: over-long roots snap.",
        name=Phrase(case.stage.name),
        day=voice.day(ends_ms),
    )
