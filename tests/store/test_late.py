"""Rows behind their channel's newest are found by whoever follows a channel by time."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.model import Flag
from monitor.store import ArrivalReader, Commit, ReadingStore, late
from monitor.store.late import LATE_KEPT
from tests.store.making import AIR, DAMP, T0_MS, reading

Times = list[tuple[int, bool]]


def _commit(store: ReadingStore, times: Times) -> None:
    store.commit(
        Commit([
            reading(T0_MS + at_ms, float(at_ms), AIR if air else DAMP, Flag.DEVICE_TIME)
            for at_ms, air in times
        ])
    )  # fmt: skip


def test_rows_in_order_leave_no_mark(tmp_path: Path) -> None:
    """A channel that only grows costs nothing: no span is noted."""
    store = ReadingStore.open(tmp_path / "readings.db")
    for at_ms in range(5):
        _commit(store, [(at_ms, True), (at_ms, False)])
    standing = ArrivalReader(store.path).standing()
    assert (standing.first_late, standing.last_late) == (1, 0)
    assert standing.heads == {AIR: T0_MS + 4, DAMP: T0_MS + 4}
    store.close()


def test_a_late_pack_is_one_span_from_its_first_row_to_its_last_behind_the_newest(
    tmp_path: Path,
) -> None:
    """Of a pack that straddles the newest, only what lies behind is in the span."""
    store = ReadingStore.open(tmp_path / "readings.db")
    _commit(store, [(100, True)])
    _commit(store, [(40, True), (20, True), (60, True), (120, True), (7, False)])
    (found,) = ArrivalReader(store.path).late_after(0, 10)
    assert found == (1, AIR, T0_MS + 20, T0_MS + 60)
    store.close()


def test_another_file_in_its_place_has_another_token(tmp_path: Path) -> None:
    """Whoever follows a file sees that it was begun anew."""
    tokens = []
    for name in ("one", "two"):
        store = ReadingStore.open(tmp_path / f"{name}.db")
        tokens.append(ArrivalReader(store.path).standing().token)
        store.close()
    assert len(set(tokens)) == 2
    assert all(len(each) == 32 for each in tokens)


def test_the_spans_are_bounded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The oldest make room, and the standing says from which number on they are kept."""
    assert LATE_KEPT >= 10_000
    monkeypatch.setattr(late, "LATE_KEPT", 3)
    store = ReadingStore.open(tmp_path / "readings.db")
    for at_ms in range(9, 0, -1):
        _commit(store, [(at_ms, True)])
    standing = ArrivalReader(store.path).standing()
    assert (standing.first_late, standing.last_late) == (6, 8)
    store.close()


@settings(max_examples=60)
@given(
    st.lists(
        st.tuples(
            st.lists(st.tuples(st.integers(0, 60), st.booleans()), min_size=1, max_size=12),
            st.integers(0, 9),
        ),
        max_size=14,
    )
)
def test_a_follower_by_time_and_late_spans_misses_no_row(
    tmp_path_factory: pytest.TempPathFactory, commits: list[tuple[Times, int]]
) -> None:
    """However rows arrive, and wherever the follower stands then, it has all in the end."""
    store = ReadingStore.open(tmp_path_factory.mktemp("late") / "readings.db")
    reader = ArrivalReader(store.path)
    taken: dict[tuple[object, int], float] = {}
    cursors = {AIR: 0, DAMP: 0}
    done = 0

    def follow(rows: int) -> None:
        nonlocal done
        spans = reader.late_after(done, 100)
        before = dict(cursors)
        for channel, at_ms in before.items():
            page = reader.page(channel, at_ms + 1, 2**60, rows)
            taken.update(((channel, t), v) for t, v in zip(page.at_ms, page.raw, strict=True))
            cursors[channel] = int(page.at_ms[-1]) if len(page.at_ms) else at_ms
        for span in spans:
            until_ms = min(span.to_ms, before[span.channel]) + 1
            page = reader.series(span.channel, span.from_ms, until_ms)
            taken.update(((span.channel, t), v) for t, v in zip(page.at_ms, page.raw, strict=True))
            done = span.id

    for times, rows in commits:
        _commit(store, times)
        if rows:
            follow(rows)
    follow(1_000)
    whole = {
        (channel, t): v
        for channel in cursors
        for series in [reader.series(channel, 0)]
        for t, v in zip(series.at_ms, series.raw, strict=True)
    }
    reader.close()
    store.close()
    assert taken == whole
