"""What is held for an order makes the alarms of its place graver."""

import pytest

from monitor.alarms import on_transition, wording
from monitor.batches.book import Hold
from monitor.model import AlarmKind, PlaceKind, Priority
from monitor.watch import begin, plan, step
from monitor.watch.priority import of_place
from tests.watch.made import DAMP, START_MS, batch, farm, pack


@pytest.mark.parametrize(
    ("held_for", "expected"),
    [(None, Priority.MEDIUM), ("Saturday's wedding", Priority.HIGH)],
)
def test_a_hold_raises_the_priority_by_one_step(held_for: str | None, expected: Priority) -> None:
    """Dry air is medium in a cooler, and high where an order is held in it."""
    stems = batch(1, "cut_stems", "cooler", held_for=held_for)
    minutes = range(120)
    dry = pack(DAMP, minutes, [70.0] * len(minutes))
    told = step(begin(plan(farm(), [stems]), START_MS), dry).transitions
    (raised,) = [each for each in told if each.key.kind is AlarmKind.TOO_DRY]
    assert raised.priority is expected


def test_a_hold_elsewhere_changes_nothing() -> None:
    """The order has to stand in the very place."""
    stems = batch(1, "cut_stems", "bucket", held_for="Saturday's wedding")
    places = plan(farm(), [stems]).places
    assert (places["bucket"].held, places["cooler"].held) == (True, False)


def test_high_stays_high() -> None:
    """There is no step above high."""
    assert of_place(AlarmKind.TOO_WARM, PlaceKind.COOLER, held=True) is Priority.HIGH


def test_the_notice_names_what_is_held() -> None:
    """The text says how many are held, and for whom."""
    stems = batch(1, "cut_stems", "cooler", held_for="Saturday's wedding")
    minutes = range(120)
    dry = pack(DAMP, minutes, [70.0] * len(minutes))
    told = step(begin(plan(farm(), [stems]), START_MS), dry).transitions
    (raised,) = [each for each in told if each.key.kind is AlarmKind.TOO_DRY]
    words = wording(farm(), [stems], {1: (Hold("Saturday's wedding", 120),)})
    decided = on_transition(raised, words, raised.at_ms)(None)
    assert decided is not None
    assert "120 held for Saturday's wedding" in decided.alarm.text
