"""What the sensors page says of what came and could not be used."""

from dataclasses import replace

import pytest

from monitor.intake.reasons import Reason
from monitor.model import Refusal, Side
from monitor.store import RefusalCount, UnclaimedTopic
from monitor.watch.trust import Doubt
from monitor.watch.trust import Reason as Reason_
from monitor.web.doubt_lines import doubt_lines
from monitor.web.look import Look
from monitor.web.sensor_lines import refused, senses
from monitor.web.settings.adopting import topics
from monitor.web.words import REFUSALS, say_messages, say_refusal
from tests.web.desk import COOLER, NOW_MS, SmallDesk


@pytest.mark.parametrize("reason", list(Reason))
def test_every_reason_has_plain_words(reason: Reason) -> None:
    """Each reason the intake counts under has words of its own, without an underscore."""
    assert reason.value in REFUSALS
    assert "_" not in say_refusal(reason.value)


def test_a_later_reason_is_still_readable() -> None:
    """A reason stored by another version is shown without its underscores."""
    assert say_refusal("too_strange") == "too strange"


@pytest.mark.parametrize(
    ("number", "said"), [(0, "0 messages"), (1, "1 message"), (1200, "1,200 messages")]
)
def test_messages_are_counted_as_people_do(number: int, said: str) -> None:
    """One is no plural."""
    assert say_messages(number) == said


def test_the_page_uses_those_words(desk: SmallDesk) -> None:
    """Refusals, their counts and topics of nobody are told in plain words."""
    look = Look.at(desk)
    counts = [RefusalCount("soak-water", Reason.NOT_A_NUMBER.value, 3, NOW_MS)]
    sense = next(each for each in senses(look, counts) if each.refused)
    assert sense.refused == ("3 refused: not a number, the last just now",)
    reason = Reason.NOT_A_NUMBER.value
    refusal = Refusal(NOW_MS, "farm/x", "soak-water", None, reason, "'warm'", b"warm")
    assert refused(look, [refusal])[0].line == "not a number: 'warm', 12:00"
    topic = UnclaimedTopic("farm/y", NOW_MS, NOW_MS, 1, b"4.1", "")
    assert topics(look, [topic])[0].heard == "1 message, the last just now"


@pytest.mark.parametrize(
    ("reason", "sides", "said"),
    [
        (Reason_.FLAT, frozenset(Side), "has said the same for hours"),
        (Reason_.HELD, frozenset(Side), "leapt to one value and has said just that since"),
        (Reason_.FLAT, frozenset({Side.HIGH}), "Not used for heat, for frost it is"),
        (Reason_.CLOCK, frozenset(), "It is judged by all the same"),
    ],
)
def test_a_doubt_is_told_with_what_follows(
    desk: SmallDesk, reason: Reason_, sides: frozenset[Side], said: str
) -> None:
    """A doubted sensor has its reason, and the place is said to be judged by it or not."""
    look = Look.at(desk)
    doubt = Doubt(reason, NOW_MS, 3.0, sides)
    watch = replace(look.watch, doubts={COOLER: doubt})
    lines = doubt_lines(replace(look, watch=watch), look.farm.sensors[COOLER.sensor])
    assert len(lines) == 1
    assert said in lines[0]
    assert doubt_lines(look, look.farm.sensors[COOLER.sensor]) == ()
