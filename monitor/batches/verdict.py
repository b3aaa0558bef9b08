"""A verdict: what the records advise, every reason with its figure. The grower decides."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any, Final

from monitor.phrase import Phrase, together

ADVICE: Final = Phrase("Advice from the records, no more: look at the batch, and decide yourself.")


class Answer(StrEnum):
    """What the records advise."""

    READY = "ready"
    WAIT = "wait"
    LOOK_CLOSELY = "look_closely"


class Pull(StrEnum):
    """Which way a reason pulls."""

    LOOK = "look"  # something is wrong, or was: look before anything else
    WAIT = "wait"
    DOUBT = "doubt"  # not known, and it could change the answer
    FOR = "for"
    NOTE = "note"  # told, and changes nothing


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason in plain words, with its figures for programs. [°C], [s], UTC [ms]"""

    kind: str
    pull: Pull
    text: str
    figures: Mapping[str, Any] = field(default_factory=dict)


class Good(StrEnum):
    """Whether stems are good for a time."""

    YES = "yes"
    DOUBTFUL = "doubtful"
    NO = "no"


@dataclass(frozen=True, slots=True)
class Promise:
    """Whether stems are good for a time, and why. [ms]"""

    for_ms: int
    good: Good
    why: str


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the records advise.

    ``condition`` is what the answer hangs on ("under cover"); ``cost_of_waiting`` what
    another few days would cost; ``promise`` stands for stems asked for by a time.
    """

    answer: Answer
    reasons: tuple[Reason, ...]
    condition: str | None = None
    cost_of_waiting: str | None = None
    promise: Promise | None = None


_ORDER: Final = (Pull.LOOK, Pull.WAIT, Pull.DOUBT, Pull.FOR, Pull.NOTE)
_ANSWERS: Final = {
    Pull.LOOK: Answer.LOOK_CLOSELY, Pull.WAIT: Answer.WAIT, Pull.DOUBT: Answer.LOOK_CLOSELY,
}  # fmt: skip


def judged(
    reasons: Sequence[Reason],
    *,
    condition: str | None = None,
    cost: str | None = None,
    promise: Promise | None = None,
) -> Verdict:
    """Return the verdict that reasons add up to.

    What is wrong comes first, then what asks to wait, then what is not known; a doubt is
    left out where the answer is to wait anyway, since it could not change it.
    """
    pulls = {each.pull for each in reasons}
    if promise is not None and promise.good is not Good.YES:
        pulls.add(Pull.LOOK)
    answer = next((_ANSWERS[pull] for pull in _ORDER if pull in pulls & set(_ANSWERS)), None)
    told = [each for each in reasons if not (each.pull is Pull.DOUBT and answer is Answer.WAIT)]
    told.sort(key=lambda each: _ORDER.index(each.pull))
    return Verdict(
        answer=answer or Answer.READY,
        reasons=tuple(told),
        condition=condition if answer is None else None,
        cost_of_waiting=cost,
        promise=promise,
    )


SAID: Final = {
    Answer.READY: Phrase("ready"),
    Answer.WAIT: Phrase("wait"),
    Answer.LOOK_CLOSELY: Phrase("look closely"),
}


def say_verdict(verdict: Verdict, who: str) -> str:
    """Return a verdict as one paragraph that begins with whom it is about."""
    head = together((SAID[verdict.answer], verdict.condition or ""), ", ")
    parts: list[str] = [Phrase("{who}: {head}.", who=who, head=head)]
    if verdict.promise is not None:
        parts.append(verdict.promise.why)
    parts += [each.text for each in verdict.reasons]
    if verdict.cost_of_waiting:
        parts.append(verdict.cost_of_waiting)
    return together(parts)
