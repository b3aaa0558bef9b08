"""A batch with nothing to plant out or promise: what it lived through, and its time."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from monitor.batches.book import Observation
from monitor.batches.history import StageHistory
from monitor.batches.lived import health_reasons, lived_reasons
from monitor.batches.unknown import Unknown
from monitor.batches.verdict import Answer, Pull, Reason, Verdict, judged
from monitor.batches.voice import Voice, span
from monitor.model import Stage
from monitor.phrase import Phrase


@dataclass(frozen=True, slots=True)
class Growing:
    """What is known of a batch at a stage without a question of its own. [ms]

    ``stage`` is None where the farm no longer has it; ``ended_ms`` is set once the batch
    is no more.
    """

    stage_id: str
    stage: Stage | None
    since_ms: int
    observations: Sequence[Observation]
    stages: Sequence[StageHistory]
    unknown: Sequence[Unknown]
    ended_ms: int | None = None


def growing_verdict(case: Growing, voice: Voice) -> Verdict:
    """Return what its record says: look closely where something was wrong, else wait."""
    if case.ended_ms is not None:
        text = Phrase(
            "The batch ended {day}: nothing is to be decided.", day=voice.day(case.ended_ms)
        )
        reason = Reason("ended", Pull.WAIT, text, {"ended_ms": case.ended_ms})
        return Verdict(Answer.WAIT, (reason,))
    reasons = [
        *_time(case, voice),
        *health_reasons(case.observations, voice),
        *lived_reasons(case.stages, case.unknown, case.observations, case.stage_id, voice),
    ]
    return judged(reasons)


def _time(case: Growing, voice: Voice) -> Iterator[Reason]:
    stage, here_s = case.stage, (voice.now_ms - case.since_ms) / 1000
    name = Phrase(stage.name) if stage else case.stage_id.replace("_", " ")
    figures = {"here_s": here_s}
    if stage is not None and stage.longest_s is not None and here_s > stage.longest_s:
        over = span(here_s - stage.longest_s)
        text = Phrase("Its longest time at {name} ended {over} ago.", name=name, over=over)
        yield Reason("time", Pull.LOOK, text, figures)
    elif stage is not None and stage.least_s is not None and here_s >= stage.least_s:
        text = Phrase(
            "Its least time at {name}, {span}, is over.", name=name, span=span(stage.least_s)
        )
        yield Reason("time", Pull.FOR, text, figures)
    elif stage is not None and stage.least_s is not None:
        left = span(stage.least_s - here_s)
        yield Reason(
            "time",
            Pull.WAIT,
            Phrase("{left} left of its least time at {name}.", left=left, name=name),
            figures,
        )
    else:
        text = Phrase("At {name} for {span}: no time is set for it.", name=name, span=span(here_s))
        yield Reason("time", Pull.WAIT, text, figures)
