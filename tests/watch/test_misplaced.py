"""A batch recorded where its kind is harmed is told at once; a slip of the pen is not."""

from dataclasses import replace
from typing import Any

import pytest

from monitor.alarms import say, wording
from monitor.farm import Crop, Farm, Place
from monitor.model import (
    AlarmKey,
    AlarmKind,
    Band,
    Edge,
    Grade,
    Harm,
    Ideal,
    PlaceKind,
    Priority,
    Quantity,
    Stage,
    Stay,
)
from monitor.watch import Replanned, Tick, begin, plan, settle
from tests.watch.made import HOUR_MS, START_MS, alarm_of, batch, cooler, farm, run

# Chilling-sensitive: dahlias are kept at 4 to 5 °C, basil is blackened under 10 °C
# (UC Davis produce facts, from memory: chilling injury of basil below 12 °C).
CHILLED = Harm(10.0, None, 3600.0, 3600.0, Grade.MEMORY, "from memory: basil blackens below")
BASIL = Crop("basil", "Basil", {
    "cut_stems": Stage(
        "cut_stems", "Cut stems", (PlaceKind.COOLER, PlaceKind.DRY_STORE),
        {Quantity.TEMPERATURE: Band(Ideal(12.0, 16.0, Grade.MEMORY, "from memory"), CHILLED)},
    ),
})  # fmt: skip
KEY = AlarmKey(AlarmKind.WRONG_PLACE, "batch:9")


def store() -> Place:
    """Return a dry store that is kept at 13 to 15 °C."""
    ideal = Ideal(13.0, 15.0, Grade.FARM, "a test")
    return Place("store", "Dry store", PlaceKind.DRY_STORE, {Quantity.TEMPERATURE: Band(ideal)})


def shop(**more: Any) -> Farm:  # noqa: ANN401  # any field
    """Return a farm with a cooler, a dry store and basil."""
    known = farm(places=[cooler(), store()], **more)
    return replace(known, crops={**known.crops, "basil": BASIL})


def basil(place: str, since_ms: int = START_MS) -> Any:  # noqa: ANN401
    """Return cut basil in a place."""
    return batch(9, "cut_stems", place, since_ms, crop="basil", cultivar=None)


def test_a_crop_that_is_chilled_there_wakes_someone() -> None:
    """Basil in a cooler kept at 1 to 4 °C is harmed below 10 °C: told at once, and where to."""
    here = shop()
    _, (told,) = run(begin(plan(here, [basil("cooler")]), START_MS), [Tick(START_MS)])
    assert (told.key, told.edge, told.priority) == (KEY, Edge.RAISE, Priority.HIGH)
    assert (told.place, told.batches, told.began_ms) == ("cooler", (9,), START_MS)
    words = say(told, wording(here, [basil("cooler")]), START_MS)
    assert words.title == "Walk-in cooler: batch 9, Basil is harmed there"
    assert "harm at 50 °F and below" in words.text
    assert "It keeps in: Dry store." in words.text
    assert "First look: move it, then record the move." in words.text


def test_moving_it_ends_the_alarm() -> None:
    """Once the records say that it stands where it keeps, the alarm returns."""
    here = shop()
    state, _ = run(begin(plan(here, [basil("cooler")]), START_MS), [Tick(START_MS)])
    later_ms = START_MS + HOUR_MS
    moved = replace(basil("cooler"), stays=(
        Stay("cooler", "cut_stems", START_MS, later_ms), Stay("store", "cut_stems", later_ms, None),
    ))  # fmt: skip
    _, (end,) = run(state, [Replanned(plan(here, [moved]), later_ms)])
    assert (end.key, end.edge, end.at_ms) == (KEY, Edge.RETURN, later_ms)
    text = say(end, wording(here, [moved]), later_ms).text
    assert text.startswith("Batch 9, Basil is out of the wrong place")
    assert "shows late" in text


def test_from_one_wrong_place_to_another_it_is_told_again() -> None:
    """A move to another place that harms ends one alarm and raises the next."""
    here = farm(places=[cooler(), cooler(id="old", name="Old cooler")])
    here = replace(here, crops={"basil": BASIL})
    state, _ = run(begin(plan(here, [basil("cooler")]), START_MS), [Tick(START_MS)])
    _, told = run(state, [Replanned(plan(here, [basil("old", START_MS + 1)]), START_MS + 1)])
    assert [(each.edge, each.place) for each in told] == [
        (Edge.RETURN, "old"), (Edge.RAISE, "old"),
    ]  # fmt: skip


def test_a_kind_of_place_that_does_not_fit_waits_for_the_morning() -> None:
    """Cut stems recorded in the sprouting room wake nobody: mostly it is a slip."""
    here = farm()
    stems = batch(9, "cut_stems", "room")
    _, (told,) = run(begin(plan(here, [stems]), START_MS), [Tick(START_MS)])
    assert (told.key, told.priority) == (KEY, Priority.LOW)
    text = say(told, wording(here, [stems]), START_MS).text
    assert "is kept in a cooler: is the stage right?" in text
    assert "It keeps in: Walk-in cooler." in text


@pytest.mark.parametrize("stage", ["cut_stems", "unheard_of"])
def test_a_batch_in_its_place_says_nothing(stage: str) -> None:
    """Where the kind fits and no harm limit is reached, or nothing is known, all is quiet."""
    assert (
        run(begin(plan(farm(), [batch(9, stage, "cooler")]), START_MS), [Tick(START_MS)])[1] == []
    )


def test_a_restart_does_not_tell_it_twice() -> None:
    """What the ledger has open goes on; what is no longer so returns as the start settles."""
    here = shop()
    wrong = plan(here, [basil("cooler")])
    _, (told,) = run(begin(wrong, START_MS), [Tick(START_MS)])
    again = begin(wrong, START_MS + HOUR_MS, open_alarms=[alarm_of(told)])
    assert settle(again, [alarm_of(told)], START_MS + HOUR_MS).transitions == ()
    right = begin(plan(here, [basil("store")]), START_MS + HOUR_MS, open_alarms=[alarm_of(told)])
    (end,) = settle(right, [alarm_of(told)], START_MS + HOUR_MS).transitions
    assert (end.key, end.edge) == (KEY, Edge.RETURN)


def test_harm_that_became_a_slip_is_not_said_to_be_over() -> None:
    """Where the harm limit is lifted but the kind of place never fits, that is what is said."""
    unfit = replace(BASIL.stages["cut_stems"], place_kinds=(PlaceKind.DRY_STORE,))
    harmed = replace(shop(), crops={"basil": replace(BASIL, stages={"cut_stems": unfit})})
    lifted = replace(unfit, bands={})
    eased = replace(shop(), crops={"basil": replace(BASIL, stages={"cut_stems": lifted})})
    state, (first,) = run(begin(plan(harmed, [basil("cooler")]), START_MS), [Tick(START_MS)])
    assert first.priority is Priority.HIGH
    later_ms = START_MS + HOUR_MS
    state, told = run(state, [Replanned(plan(eased, [basil("cooler")]), later_ms)])
    assert [(each.edge, each.priority) for each in told[1:]] == [(Edge.RAISE, Priority.LOW)]
    over = say(told[0], wording(eased, [basil("cooler")]), later_ms)
    assert over.title == "Batch 9, Basil stands otherwise than was told"
    assert "out of the wrong place" not in over.text
    assert run(state, [Tick(later_ms + 1)])[1] == []


@pytest.mark.parametrize(
    ("stood_h", "priority"), [(72, Priority.MEDIUM), (25, Priority.MEDIUM), (23, Priority.HIGH)]
)
def test_what_a_start_finds_long_since_so_wakes_nobody(stood_h: int, priority: Priority) -> None:
    """A batch that has stood there for a day is told in the morning, once; a new one at once."""
    since_ms = START_MS - stood_h * HOUR_MS
    wrong = plan(shop(), [basil("cooler", since_ms)])
    (told,) = settle(begin(wrong, START_MS), [], START_MS).transitions
    assert (told.key, told.edge, told.priority) == (KEY, Edge.RAISE, priority)
    row, later_ms = alarm_of(told), START_MS + HOUR_MS
    again = settle(begin(wrong, later_ms, open_alarms=[row]), [row], later_ms)
    assert again.transitions == ()


def test_an_entry_that_is_made_late_rings_while_the_watch_runs() -> None:
    """A move of two days ago that is written down only now is news."""
    state, _ = run(begin(plan(shop(), []), START_MS), [Tick(START_MS)])
    wrong = plan(shop(), [basil("cooler", START_MS - 48 * HOUR_MS)])
    _, (told,) = run(state, [Replanned(wrong, START_MS + HOUR_MS)])
    assert told.priority is Priority.HIGH
