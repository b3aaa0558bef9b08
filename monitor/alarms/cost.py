"""What a cooler's spell out of band did to the stems in it: reckoned, and said in words."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any, Final

from monitor.alarms.saying import say_span
from monitor.alarms.wording import Wording
from monitor.batches.rates import kept_at_c, q10_for
from monitor.batches.spent import Kept, Spent, spent
from monitor.farm import Place
from monitor.model import AlarmKind, Batch, Edge, PlaceKind, Quantity, Transition
from monitor.phrase import Phrase
from monitor.science.series import Samples

COST: Final = "cost"
_TOLD: Final = (AlarmKind.TOO_WARM, AlarmKind.TOO_COLD)
_AIR: Final = Quantity.TEMPERATURE
_LAGS_S: Final = 1800.0
"""What follows the air faster than this is not told apart from it. [s]"""
_HOUR_S: Final = 3600.0
_DAY_H: Final = 24.0


def costs(transition: Transition, words: Wording) -> Place | None:
    """Return the cooler of which a return is to tell a cost; None where there is none to tell."""
    place = words.farm.places.get(transition.place or "")
    if place is None or place.kind is not PlaceKind.COOLER or transition.facts.get("gone"):
        return None
    if transition.edge is not Edge.RETURN or transition.key.kind not in _TOLD:
        return None
    told = transition.quantity is _AIR and any(_kept(transition, words, place))
    return place if told else None


def costed(transition: Transition, words: Wording, air: Samples) -> Transition:
    """Return a return with what it cost the stems there, where that can be told.

    Parameters
    ----------
    transition : Transition
        The return of a cooler's alarm.
    words : Wording
        The farm, and the batches that are there.
    air : Samples
        Of the transition's sensor, from well before the spell to its end. [°C]
    """
    place = costs(transition, words)
    if place is None:
        return transition
    span_ms = transition.began_ms, transition.at_ms
    found = [
        each
        for kept in set(_kept(transition, words, place))
        if (each := spent(air, place.lag_s, *span_ms, kept)) is not None
    ]
    if not found:
        return transition
    worst = max(found, key=lambda each: (each.extra_s, each.known_s))
    return replace(transition, facts={**transition.facts, COST: _facts(worst, place)})


def _kept(transition: Transition, words: Wording, place: Place) -> Iterator[Kept]:
    for number in transition.batches:
        batch = words.batches.get(number)
        crop = words.farm.crops.get(batch.crop) if batch else None
        if batch is None or crop is None or batch.stay is None or batch.unit != "stems":
            continue
        at_c = _kept_at_c(words, batch, place)
        yield Kept(q10_for(crop), at_c, max(transition.began_ms, _here_since_ms(batch)))


def _here_since_ms(batch: Batch) -> int:
    """Return since when a batch stands where it is, whatever stages it passed there. [ms]"""
    since_ms = batch.stays[-1].since_ms
    for stay in reversed(batch.stays):
        if stay.place != batch.stays[-1].place:
            break
        since_ms = stay.since_ms
    return since_ms


def _kept_at_c(words: Wording, batch: Batch, place: Place) -> float:
    """Return the middle of the stage's ideal band, else of the place's. [°C]"""
    stages = words.farm.crops[batch.crop].stages
    stage = stages.get(batch.stay.stage) if batch.stay else None
    bands = [stage.bands.get(_AIR) if stage else None, place.bands.get(_AIR)]
    return kept_at_c(next((each for each in bands if each and each.ideal), None))


def _facts(worst: Spent, place: Place) -> dict[str, Any]:
    kept = worst.kept
    return {
        "extra_s": worst.extra_s, "most_c": worst.most_c, "least_c": worst.least_c,
        "known_s": worst.known_s, "unknown_s": worst.unknown_s, "outside_s": worst.outside_s,
        "at_c": kept.at_c, "lag_s": place.lag_s, "q10": kept.q10.factor,
        "q10_until_c": kept.q10.until_c, "source": kept.q10.source,
        "grade": kept.q10.grade.value, "borrowed": kept.q10.borrowed,
    }  # fmt: skip


def say_cost(facts: Mapping[str, Any], kind: AlarmKind, words: Wording) -> str:
    """Return what follows how far the air was out, to the end of the sentence.

    ``", flowers at most 41.9 °F: a negligible loss of cooler time."``; for cold, the coldest
    and what to do.
    """
    cost = facts.get(COST)
    if cost is None:
        return "."
    cold = kind is AlarmKind.TOO_COLD
    figure = words.value(cost["least_c" if cold else "most_c"], _AIR)
    lags = cost["lag_s"] >= _LAGS_S
    flowers = (
        ""
        if not lags
        else Phrase(", flowers down to {figure}", figure=figure)
        if cold
        else Phrase(", flowers at most {figure}", figure=figure)
    )
    if cold:
        return Phrase(
            "{flowers}. Look the stems over: cold costs no cooler time, but may show late.",
            flowers=flowers,
        )
    return Phrase("{flowers}: {loss}.", flowers=flowers, loss=say_loss(cost))


def say_loss(cost: Mapping[str, Any]) -> str:
    """Return a warm spell's cost in words; below an hour it is negligible."""
    if cost["known_s"] < cost["unknown_s"]:
        return Phrase("too little of it is known to tell the loss of cooler time")
    least = cost["outside_s"] > 0
    if cost["extra_s"] < _HOUR_S:
        whole = Phrase("a negligible loss of cooler time")
        return Phrase("{whole}, as far as it can be reckoned", whole=whole) if least else whole
    amount = _amount(cost["extra_s"] / _HOUR_S)
    if least:
        return Phrase("at least about {amount} of cooler time lost", amount=amount)
    return Phrase("about {amount} of cooler time lost", amount=amount)


def _amount(hours: float) -> str:
    """Return ``"1 hour"``, ``"5 hours"``, ``"a day"`` or ``"1.5 days"``."""
    whole = round(hours)
    if whole < _DAY_H:
        return Phrase("1 hour") if whole == 1 else Phrase("{whole} hours", whole=whole)
    days = round(hours / _DAY_H * 2) / 2
    return Phrase("a day") if days == 1 else Phrase("{days:g} days", days=days)


def unknown_s(facts: Mapping[str, Any]) -> float:
    """Return how much of a spell is not known, by the reckoning where there is one. [s]"""
    cost = facts.get(COST)
    return float((facts if cost is None else cost).get("unknown_s") or 0.0)


def say_reckoned(facts: Mapping[str, Any], words: Wording) -> str:
    """Return by what a warm spell's cost was reckoned; nothing where there is none."""
    cost = facts.get(COST)
    if cost is None:
        return ""
    follows = (
        Phrase("which follow the air by {span}", span=say_span(cost["lag_s"]))
        if cost["lag_s"]
        else Phrase("as air")
    )
    return Phrase(
        "Cooler time is what the stems, {follows}, aged beyond the usual at "
        "{kept}, cooling down again included: Q10 {q10:g} up to {until}, "
        "{source}; above that the relative rates of USDA Agriculture Handbook 66.",
        follows=follows,
        kept=words.value(cost["at_c"], _AIR),
        q10=cost["q10"],
        until=words.value(cost["q10_until_c"], _AIR),
        source=cost["source"],
    )
