"""What a step may note of a batch of which the other side took a part."""

from contextlib import closing
from pathlib import Path

from monitor.mirror.gathering import gather
from monitor.model import Flag
from monitor.store import ArrivalReader, Commit, MirrorFile, ReadingStore
from tests.store.making import AIR, DAMP, T0_MS, reading


def test_a_span_taken_in_part_is_gone_on_with_though_an_empty_one_follows(tmp_path: Path) -> None:
    """The rest of late rows is sent next, whatever spans stand behind them in the batch."""
    path = tmp_path / "readings.db"
    late = [reading(T0_MS + at_ms, flags=Flag.DEVICE_TIME) for at_ms in range(10)]
    ahead = [reading(T0_MS + at_ms, 80.0, DAMP, Flag.DEVICE_TIME) for at_ms in (300_000, 200_000)]
    with (
        closing(ReadingStore.open(path)) as store,
        closing(ArrivalReader(path)) as reader,
        closing(MirrorFile.open(tmp_path / "mirror.db")) as file,
    ):
        store.commit(Commit([reading(T0_MS + 100_000), reading(T0_MS + 100_000, 80.0, DAMP)]))
        found = reader.standing()
        file.begin(found.token, "office", found.last_late, found.heads)
        for part in (late, ahead[:1], ahead[1:]):  # the last lies behind its channel's newest only
            store.commit(Commit(part))
        until_ms = T0_MS + 150_000
        batch = gather(reader, file.position(), until_ms)
        assert [len(each.series.at_ms) for each in batch.pieces] == [10, 0]
        assert file.advance(batch.position.epoch, batch.progress(4, [], T0_MS), T0_MS)
        rest = gather(reader, file.position(), until_ms).pieces[0]
    assert (rest.channel, rest.series.at_ms.tolist()) == (AIR, [T0_MS + at for at in range(4, 10)])
