"""Reading: pages, the last readings before a time, charts."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.errors import StoreError
from monitor.model import Channel, Flag, Quantity
from monitor.store import Commit, ReadingReader, ReadingStore
from tests.store.making import AIR, DAMP, HOUR_MS, T0_MS, reading

NEVER = Channel("never-heard", Quantity.DOOR)


@pytest.fixture(scope="module")
def reader(tmp_path_factory: pytest.TempPathFactory) -> ReadingReader:
    """Return a reader of ten days of one-minute readings that swing by the day."""
    store = ReadingStore.open(tmp_path_factory.mktemp("farm") / "readings.db")
    minutes = np.arange(14_400)
    raw = np.round(4.0 + 2.0 * np.sin(minutes / 1440 * 2 * np.pi), 2)
    rows = [
        reading(T0_MS + int(at) * 60_000, float(value))
        for at, value in zip(minutes, raw, strict=True)
    ]
    store.commit(Commit(readings=rows))
    return store.reader()


def test_a_span_without_ends_has_the_same_times(reader: ReadingReader) -> None:
    """From before all time to after it: what an export asks for."""
    asked = T0_MS, T0_MS + 5 * 60_000
    times = reader.page(AIR, *asked, 5).at_ms.tolist()
    assert times == list(range(*asked, 60_000))
    assert reader.page(AIR, -(2**62), 2**62, 5).at_ms.tolist() == times
    last_ms = T0_MS + 14_399 * 60_000
    assert reader.series_before(AIR, 2**62, 2).at_ms.tolist() == [last_ms - 60_000, last_ms]


def test_pages_join_without_a_seam(reader: ReadingReader) -> None:
    """Short pages give the same series as one long one; its end is outside."""
    until_ms = T0_MS + 1_000 * 60_000
    whole = reader.series(AIR, T0_MS, until_ms)
    paged = reader.series(AIR, T0_MS, until_ms, page=7)
    assert len(whole.raw) == 1_000
    assert np.array_equal(whole.at_ms, paged.at_ms)
    assert np.array_equal(whole.raw, paged.raw)


def test_the_last_readings_before_a_time_are_in_order(reader: ReadingReader) -> None:
    """The reading at the time itself is not among them."""
    before = reader.series_before(AIR, T0_MS + 10 * 60_000, 3)
    assert before.at_ms.tolist() == [T0_MS + k * 60_000 for k in (7, 8, 9)]


def test_a_channel_never_heard_gives_empty_answers(reader: ReadingReader) -> None:
    """Asking for what is not there is no error."""
    assert len(reader.series(NEVER, 0).raw) == 0
    assert len(reader.series_before(NEVER, T0_MS, 5).raw) == 0
    assert len(reader.drawn(NEVER, T0_MS, T0_MS + 400 * 24 * HOUR_MS, 100).n) == 0
    assert len(reader.drawn(NEVER, T0_MS, T0_MS + HOUR_MS, 100).n) == 0
    assert reader.first_at(NEVER) is None
    assert reader.last_between(NEVER, T0_MS, above=0, below=9) is None


def test_the_first_time_of_a_channel_is_known(reader: ReadingReader) -> None:
    """A history begins where its channel was first heard."""
    assert reader.first_at(AIR) == T0_MS


@pytest.mark.parametrize("points", [10, 40, 100, 300, 1_000, 5_000, 20_000])
def test_a_chart_hides_no_extreme_and_loses_no_reading(reader: ReadingReader, points: int) -> None:
    """However coarse a chart is, its lows, highs and mean are those of the readings."""
    since_ms, until_ms = T0_MS - T0_MS % (8 * HOUR_MS), T0_MS + 10 * 24 * HOUR_MS
    drawn = reader.drawn(AIR, since_ms, until_ms, points)
    series = reader.series(AIR, since_ms, until_ms)
    assert len(drawn.n) <= points * 1.5
    assert drawn.low.min() == series.raw.min()
    assert drawn.high.max() == series.raw.max()
    assert int(drawn.n.sum()) == len(series.raw)
    assert (drawn.mean * drawn.n).sum() / drawn.n.sum() == pytest.approx(series.raw.mean())
    assert (np.diff(drawn.at_ms) > 0).all()


def test_a_chart_of_few_readings_is_the_readings(reader: ReadingReader) -> None:
    """Zoomed in, each reading is drawn as it is."""
    drawn = reader.drawn(AIR, T0_MS, T0_MS + HOUR_MS, 500)
    assert drawn.width_ms == 0
    assert np.array_equal(drawn.mean, reader.series(AIR, T0_MS, T0_MS + HOUR_MS).raw)


ROWS = st.lists(
    st.tuples(
        st.integers(0, 30 * HOUR_MS),
        st.sampled_from([0.0, 2.0, 4.0, 6.0, 9.0]),
        st.sampled_from([Flag.NONE, Flag.SUSPECT, Flag.TIME_UNCERTAIN]),
    ),
    max_size=30,
)


@settings(max_examples=60)
@given(ROWS, st.integers(0, 31 * HOUR_MS), st.integers(0, 20 * HOUR_MS))
def test_the_last_reading_within_limits_is_found(
    tmp_path_factory: pytest.TempPathFactory,
    rows: list[tuple[int, float, Flag]],
    before_ms: int,
    since_ms: int,
) -> None:
    """The search by hourly extremes finds what a look at every reading finds."""
    store = ReadingStore.open(tmp_path_factory.mktemp("farm") / "readings.db")
    store.commit(
        Commit(readings=[reading(T0_MS + at, raw, flags=flags) for at, raw, flags in rows])
    )
    series = store.reader().series(AIR, T0_MS + since_ms, T0_MS + before_ms)
    believed = (series.flags & (Flag.SUSPECT | Flag.TIME_UNCERTAIN)) == 0
    fits = series.at_ms[believed & (series.raw > 1.0) & (series.raw < 5.0)]
    found = store.reader().last_between(
        AIR, T0_MS + before_ms, above=1.0, below=5.0, since_ms=T0_MS + since_ms
    )
    assert found == (int(fits[-1]) if len(fits) else None)
    store.close()


def test_a_reader_cannot_write(reader: ReadingReader) -> None:
    """A reader's connection refuses every change."""
    with pytest.raises(StoreError), reader._reading() as connection:
        connection.execute("DELETE FROM readings")


def test_a_reader_says_that_there_is_no_file_yet(tmp_path: Path) -> None:
    """Before the first run a reader names the file and what makes it."""
    with pytest.raises(StoreError, match=r"readings\.db does not exist yet"):
        ReadingReader(tmp_path / "readings.db").newest()
    assert not (tmp_path / "readings.db").exists()
    (tmp_path / "readings.db").touch()
    with pytest.raises(StoreError, match="not set up for this version"):
        ReadingReader(tmp_path / "readings.db").newest()


def test_other_channels_are_not_mixed_in(tmp_path: Path) -> None:
    """Each channel is read alone."""
    store = ReadingStore.open(tmp_path / "readings.db")
    store.commit(Commit(readings=[reading(T0_MS, 4.0), reading(T0_MS, 90.0, DAMP)]))
    assert store.reader().series(DAMP, 0).raw.tolist() == [90.0]
    assert store.reader().summaries(DAMP, 0, T0_MS * 2).mean.tolist() == [90.0]
