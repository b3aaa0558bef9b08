"""What is brought in from a file is history: it raises nothing, now or after a restart."""

from contextlib import closing
from pathlib import Path

import pytest

from monitor.model import AlarmKind, Flag
from tests.daemon.made import HandClock, Post, farm, readings
from tests.watch.made import MINUTE_MS, START_MS


@pytest.mark.parametrize(("flags", "raised"), [
    (Flag.DEVICE_TIME | Flag.IMPORTED, []), (Flag.DEVICE_TIME, [AlarmKind.TOO_WARM]),
])  # fmt: skip
def test_an_imported_spell_alarms_nobody_and_the_same_heard_live_does(
    tmp_path: Path, flags: Flag, raised: list[AlarmKind]
) -> None:
    """Hours far over harm up to this minute, kept while nobody watched, then judged at a start."""
    with closing(Post(farm(tmp_path), HandClock())) as post:
        post.hear(readings(range(-30, 0), 3.0))
        post.keep(readings(range(1, 181), 20.0, flags=flags))
        post.clock.now = START_MS + 181 * MINUTE_MS
        told = [each.key.kind for each in post.start().pending]
    assert [each for each in told if each is AlarmKind.TOO_WARM] == raised
