"""Batches that the records put where their kind is harmed, or where it is never kept.

Harm is told at once, whoever sleeps: it is done within hours and seen days later. What a
start finds to have stood there for a day already is no news at night. A kind of place that
does not fit the stage is mostly a slip of the pen: both wait for the morning.
Either is over once the records say that the batch stands elsewhere, or at another stage.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any, Final

from monitor.batches.placing import judge_placing
from monitor.farm import Crop, Farm, Place
from monitor.model import AlarmKey, AlarmKind, Batch, Edge, Priority, Stage, Transition
from monitor.watch import priority
from monitor.watch.plan import Misplaced
from monitor.watch.state import Told, WatchState

_FITS: Final = 2  # places that are named, the best first
_NEWS_MS: Final = 24 * 3_600_000


def misplaced(farm: Farm, batches: Sequence[Batch]) -> Iterator[Misplaced]:
    """Yield the open batches whose place does not suit them, and what is wrong there."""
    for batch in batches:
        if (stay := batch.stay) is None:
            continue
        crop, place = farm.crops.get(batch.crop), farm.places.get(stay.place)
        stage = crop.stages.get(stay.stage) if crop else None
        if crop is None or stage is None or place is None:
            continue
        found = _worth_telling(farm, crop, stage, place)
        if found is not None:
            harmful, text = found
            fits = tuple(_fits(farm, crop, stage))
            yield Misplaced(batch.id, place.id, stay.since_ms, harmful, text, fits)


def _worth_telling(farm: Farm, crop: Crop, stage: Stage, place: Place) -> tuple[bool, str] | None:
    """Return whether it harms, and what is wrong; None where it merely does less well."""
    unfit = bool(stage.place_kinds) and place.kind not in stage.place_kinds
    found = judge_placing(farm, crop, stage, place)
    harm = next((each.text for each in found if each.harmful), None)
    if harm is not None:
        return True, harm
    return (False, found[-1].text) if unfit else None


def _fits(farm: Farm, crop: Crop, stage: Stage) -> Iterator[str]:
    """Yield the names of the places of the farm where it keeps, two at most."""
    good = [
        each.name
        for each in farm.places.values()
        if each.kind in stage.place_kinds and not judge_placing(farm, crop, stage, each)
    ]
    yield from good[:_FITS]


def told_misplaced(state: WatchState) -> tuple[WatchState, list[Transition]]:
    """Tell which batches stand where they should not, and which do no longer."""
    told, said = dict(state.told), list[Transition]()
    found = {key_of(each.batch): each for each in state.plan.misplaced}
    for key, was in state.told.items():
        if key.kind is AlarmKind.WRONG_PLACE and not _same(was, found.get(key)):
            over = _transition(state, key, Edge.RETURN, was.began_ms, was.high)
            still = {"anew": True} if key in found else {}
            said.append(replace(over, facts={**over.facts, **still}))
            del told[key]
    for key, each in found.items():
        if key not in told:
            raised = _transition(state, key, Edge.RAISE, each.since_ms, each.harmful, each)
            said.append(raised)
            told[key] = Told(each.since_ms, raised.at_ms, high=each.harmful)
    return (replace(state, told=told) if said else state), said


def key_of(batch: int) -> AlarmKey:
    """Return the key of the alarm that a batch stands in a wrong place."""
    return AlarmKey(AlarmKind.WRONG_PLACE, f"batch:{batch}")


def _same(told: Told, found: Misplaced | None) -> bool:
    """Return whether a batch is still in the place, and as badly, as was told."""
    return found is not None and (told.began_ms, told.high) == (found.since_ms, found.harmful)


def _priority(state: WatchState, began_ms: int, harmful: bool) -> Priority:
    """Return how loudly it is told: by the harm, and whether a start finds it long since so."""
    if not harmful:
        return Priority.LOW
    starting = state.now_ms <= state.started_ms
    if starting and began_ms < state.started_ms - _NEWS_MS:
        return Priority.MEDIUM
    return priority.of_kind(AlarmKind.WRONG_PLACE)


def _transition(  # noqa: PLR0917  # the state, the alarm, and what was found
    state: WatchState, key: AlarmKey, edge: Edge, began_ms: int, harmful: bool,
    found: Misplaced | None = None,
) -> Transition:  # fmt: skip
    number = int(key.subject.partition(":")[2])
    here = [each.id for each in state.plan.places.values() if number in each.batches]
    facts: dict[str, Any] = {"harmful": harmful}
    if found is not None:
        facts |= {"detail": found.text, "fits": list(found.fits)}
    return Transition(
        key=key,
        edge=edge,
        at_ms=state.now_ms,
        began_ms=began_ms,
        priority=_priority(state, began_ms, harmful),
        place=found.place if found else next(iter(here), None),
        batches=(number,),
        facts=facts,
    )
