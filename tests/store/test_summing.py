"""Summaries are what the readings make of them."""

import math
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.model import Channel, Flag, Reading
from monitor.store import Commit, ReadingReader, ReadingStore, Width
from tests.store.making import AIR, DAMP, HOUR_MS, T0_MS, reading

LAST_MS = T0_MS + 40 * HOUR_MS
FLAGS = st.sampled_from(
    [Flag.NONE, Flag.DEVICE_TIME, Flag.SUSPECT, Flag.TIME_UNCERTAIN, Flag.IMPORTED]
)
READINGS = st.builds(
    reading,
    st.one_of(st.integers(T0_MS, LAST_MS), st.integers(T0_MS, T0_MS + 5)),
    st.one_of(st.floats(-40, 120), st.integers(-4_000, 4_000).map(lambda k: k / 100)),
    st.sampled_from([AIR, DAMP]),
    FLAGS,
)


def _recomputed(
    reader: ReadingReader, channel: Channel, width: Width
) -> dict[int, tuple[int, int, float, float, float]]:
    series = reader.series(channel, 0)
    hours: dict[int, list[tuple[float, int]]] = defaultdict(list)
    for at_ms, raw, flags in zip(
        series.at_ms.tolist(), series.raw.tolist(), series.flags.tolist(), strict=True
    ):
        if not flags & Flag.TIME_UNCERTAIN:
            hours[at_ms - at_ms % width.value].append((raw, flags))
    return {
        start_ms: (
            len(rows),
            sum(1 for _, flags in rows if flags & Flag.SUSPECT),
            min(raw for raw, _ in rows),
            max(raw for raw, _ in rows),
            math.fsum(raw for raw, _ in rows) / len(rows),
        )
        for start_ms, rows in hours.items()
    }


def _kept(
    reader: ReadingReader, channel: Channel, width: Width
) -> dict[int, tuple[int, int, float, float, float]]:
    rows = reader.summaries(channel, 0, LAST_MS + 10 * HOUR_MS, width)
    columns = (rows.start_ms, rows.n, rows.suspect, rows.low, rows.high, rows.mean)
    table = zip(*(each.tolist() for each in columns), strict=True)
    return {start_ms: tuple(rest) for start_ms, *rest in table}


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.lists(READINGS, max_size=25), max_size=6))
def test_summaries_equal_what_the_readings_give(
    tmp_path_factory: pytest.TempPathFactory, commits: Sequence[Sequence[Reading]]
) -> None:
    """Late, repeated and unordered readings leave the summaries as if recomputed."""
    store = ReadingStore.open(tmp_path_factory.mktemp("farm") / "readings.db")
    told = [store.commit(Commit(readings=each)) for each in commits]
    reader = store.reader()
    for channel in (AIR, DAMP):
        for width in Width:
            kept, expected = _kept(reader, channel, width), _recomputed(reader, channel, width)
            assert kept.keys() == expected.keys()
            for start_ms, row in expected.items():
                assert kept[start_ms][:4] == row[:4]
                assert kept[start_ms][4] == pytest.approx(row[4], abs=1e-6)
    count = len(reader.series(AIR, 0).raw) + len(reader.series(DAMP, 0).raw)
    assert sum(each.stored for each in told) == count
    assert sum(each.stored + each.repeated + each.conflicting for each in told) == sum(
        len(each) for each in commits
    )
    reader.close()
    store.close()


def test_the_order_of_arrival_leaves_no_trace(tmp_path: Path) -> None:
    """The same readings in two orders give the same summaries to the last bit."""
    rows = [reading(T0_MS + k * 61_000, k * 0.1 + 0.05) for k in range(300)]
    kept = []
    for number, order in enumerate((rows, rows[::-1], rows[150:] + rows[:150])):
        store = ReadingStore.open(tmp_path / f"{number}.db")
        for at in range(0, 300, 7):
            store.commit(Commit(readings=order[at : at + 7]))
        kept.append(_kept(store.reader(), AIR, Width.HOUR))
        store.close()
    assert kept[0] == kept[1] == kept[2]
    assert len(kept[0]) > 4


def test_an_uncertain_time_belongs_to_no_hour(tmp_path: Path) -> None:
    """A reading queued before the fence is kept but counts for no coverage."""
    store = ReadingStore.open(tmp_path / "readings.db")
    store.commit(Commit(readings=[reading(T0_MS, 9.0, flags=Flag.TIME_UNCERTAIN)]))
    reader = store.reader()
    assert len(reader.summaries(AIR, 0, LAST_MS).n) == 0
    assert reader.series(AIR, 0).raw.tolist() == [9.0]
    store.close()


def test_a_huge_value_overflows_no_total(tmp_path: Path) -> None:
    """Absurd but finite values are kept and end no commit."""
    store = ReadingStore.open(tmp_path / "readings.db")
    store.commit(Commit(readings=[reading(T0_MS + k, 1e300) for k in range(50)]))
    rows = store.reader().summaries(AIR, 0, LAST_MS)
    assert rows.high.tolist() == [1e300]
    assert math.isfinite(rows.mean[0])
    store.close()
