"""What the clock alone can change: sensors that fall silent, stages that end."""

from collections.abc import Iterable, Iterator
from dataclasses import replace

from monitor.model import AlarmKey, AlarmKind, Edge, Transition
from monitor.watch import priority
from monitor.watch.doors import next_doors, told_doors
from monitor.watch.harder import told_harder
from monitor.watch.hearing import next_silences
from monitor.watch.loading import held_until_ms
from monitor.watch.misplaced import told_misplaced
from monitor.watch.mistrust import DOUBTS, next_look, told_doubts
from monitor.watch.plan import Due, PlacePlan, WatchPlan
from monitor.watch.silence import next_mains, told_silences
from monitor.watch.state import Told, WatchState
from monitor.watch.telling import Tale, gone, tell_place

_WATCHED_ALONE = (
    AlarmKind.SENSOR_SILENT, AlarmKind.STAGE_ENDING, AlarmKind.SENSORS_DARK, AlarmKind.MAINS_LOST,
    AlarmKind.DOOR_OPEN, AlarmKind.WRONG_PLACE, *DOUBTS,
)  # fmt: skip


def mind(state: WatchState, *, now: bool = False) -> Tale:
    """Tell what the passing of time has made true, or false again."""
    state, silences = told_silences(state)
    state, doubts = told_doubts(state, now=now)
    state, doors = told_doors(state)
    state, wrong = told_misplaced(state)
    transitions: list[Transition] = [*silences, *doubts, *doors, *wrong]
    told = dict(state.told)
    for transition in _endings(state):
        transitions.append(transition)
        if transition.edge is Edge.RAISE:
            told[transition.key] = Told(transition.began_ms, transition.at_ms)
        else:
            told.pop(transition.key, None)
    tale = Tale(replace(state, told=told), tuple(transitions)) if transitions else Tale(state)
    for place in _held(tale.state):
        more = tell_place(tale.state, place)
        tale = Tale(more.state, tale.transitions + more.transitions)
    return tale


def _held(state: WatchState) -> list[PlacePlan]:
    """Return the places that have been loaded and of which something is expected."""
    subjects = {key.subject for key, each in state.told.items() if each.usual}
    return [
        each for each in state.plan.places.values() if each.id in subjects and each.loadings
    ]  # fmt: skip


def mind_all(state: WatchState) -> Tale:
    """Tell whatever differs between what was told and how things stand."""
    tale = mind(state, now=True)
    worked, harder = told_harder(tale.state, state.plan.places.values())
    tale = Tale(worked, tale.transitions + tuple(harder))
    for place in state.plan.places.values():
        more = tell_place(tale.state, place)
        tale = Tale(more.state, tale.transitions + more.transitions)
    known = tale.state.plan.places.keys()
    lost = [
        key for key in tale.state.told
        if key.kind not in _WATCHED_ALONE and key.subject not in known
    ]  # fmt: skip
    told = {key: each for key, each in tale.state.told.items() if key not in lost}
    ends = tuple(gone(key, tale.state.told[key], None, state.now_ms) for key in lost)
    return Tale(replace(tale.state, told=told), tale.transitions + ends)


def next_due(state: WatchState) -> int | None:
    """Return the earliest time at which a tick could change something. [ms]"""
    endings = (each.due_ms for each in _pending(state))
    looks = [at_ms for at_ms in (next_look(state),) if at_ms is not None]
    holds = [end for each in _held(state) if (end := held_until_ms(each, state.now_ms))]
    return min(
        (*next_silences(state), *endings, *next_mains(state), *next_doors(state), *looks, *holds),
        default=None,
    )


def stage_key(batch: int) -> AlarmKey:
    """Return the key of the alarm that a batch's stage ends."""
    return AlarmKey(AlarmKind.STAGE_ENDING, f"batch:{batch}")


def due_work(plan: WatchPlan, until_ms: int) -> tuple[Due, ...]:
    """Return the stages to be told of in the morning: soonest end first.

    Those whose lateness harms have an alarm of their own.
    """
    dues = [each for each in plan.dues if each.due_ms <= until_ms and not each.late_harms]
    return tuple(sorted(dues, key=lambda each: (each.ends_ms, each.batch)))


def _pending(state: WatchState) -> Iterable[Due]:
    return (
        each for each in state.plan.dues
        if each.late_harms and stage_key(each.batch) not in state.told
    )  # fmt: skip


def _endings(state: WatchState) -> Iterator[Transition]:
    late = {
        stage_key(each.batch): each
        for each in state.plan.dues
        if each.late_harms and each.due_ms <= state.now_ms
    }
    for key, told in state.told.items():
        if key.kind is AlarmKind.STAGE_ENDING and key not in late:
            yield gone(key, told, None, state.now_ms)
    for key, due in late.items():
        if key not in state.told:
            yield _ending(key, due, state.now_ms)


def _ending(key: AlarmKey, due: Due, now_ms: int) -> Transition:
    return Transition(
        key=key,
        edge=Edge.RAISE,
        at_ms=now_ms,
        began_ms=due.due_ms,
        priority=priority.of_stage(due.ends_ms - due.due_ms),
        place=due.place,
        batches=(due.batch,),
        facts={"stage": due.stage, "since_ms": due.since_ms, "ends_ms": due.ends_ms},
    )
