"""Tables that nothing can fill."""

from pathlib import Path

import pytest

from monitor.model import Quantity, Refusal
from monitor.store import Commit, Gap, ReadingStore, RefusalCount, UnclaimedTopic, bounded
from tests.store.making import T0_MS


def _refusal(number: int, reason: str = "not a number") -> Refusal:
    return Refusal(
        T0_MS + number, "farm/cooler", "cooler-air", Quantity.TEMPERATURE, reason,
        f"'???' {number}", b"???" * 1_000,
    )  # fmt: skip


@pytest.fixture
def store(tmp_path: Path) -> ReadingStore:
    """Return an empty store."""
    return ReadingStore.open(tmp_path / "readings.db")


def test_refusals_are_kept_with_their_reason_and_bounded(store: ReadingStore) -> None:
    """The newest refusals are shown, all are counted, long payloads are cut."""
    for start in range(0, 1_500, 500):
        store.commit(Commit(refusals=[_refusal(start + k) for k in range(500)]))
    reader = store.reader()
    kept = reader.refusals(limit=5_000)
    assert len(kept) == bounded.REFUSALS_KEPT
    assert kept[0].detail == "'???' 1499"
    assert kept[0].quantity is Quantity.TEMPERATURE
    assert len(kept[0].payload) == bounded.PAYLOAD_BYTES
    assert reader.refusal_counts() == [
        RefusalCount("cooler-air", "not a number", 1_500, T0_MS + 1_499)
    ]


def test_a_text_no_file_can_hold_is_kept_as_well_as_can_be(store: ReadingStore) -> None:
    """A lone surrogate or a zero byte in a topic ends no commit."""
    bad = Refusal(T0_MS, "a\udc00b\x00", None, None, "topic", "\ud800", b"")
    store.commit(Commit(refusals=[bad]))
    assert store.reader().refusals()[0].topic.startswith("a?b")


def test_unclaimed_topics_are_bounded_and_counted(store: ReadingStore) -> None:
    """Those heard last stay; a topic heard again adds to its count."""
    topics = [UnclaimedTopic(f"t/{k}", T0_MS + k, T0_MS + k, 1, b"4.1") for k in range(500)]
    store.commit(Commit(unclaimed=topics))
    store.commit(Commit(unclaimed=[UnclaimedTopic("t/400", T0_MS + 900, T0_MS + 900, 2)]))
    kept = store.reader().unclaimed()
    assert len(kept) == bounded.UNCLAIMED_KEPT
    assert kept[0] == UnclaimedTopic("t/400", T0_MS + 400, T0_MS + 900, 3)
    assert kept[1].topic == "t/499"


def test_a_gap_in_keeping_is_remembered(store: ReadingStore) -> None:
    """What was heard but not kept has a span, a reason and a count."""
    gap = Gap(T0_MS, T0_MS + 60_000, "disk full", 12)
    store.commit(Commit(gaps=[gap]))
    assert store.reader().gaps() == [gap]
    assert store.reader().gaps(since_ms=T0_MS + 60_001) == []
