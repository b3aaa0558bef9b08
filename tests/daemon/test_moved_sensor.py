"""A sensor that is hung elsewhere, or whose id comes back, is judged by what it told there."""

import asyncio
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Final

import pytest

from monitor.daemon import chores
from monitor.daemon.replaying import Replay
from monitor.farm import Farm
from monitor.model import AlarmKind, NoticeKind, PlaceState, Quantity, Reading
from monitor.report.recorded import posted_since
from monitor.watch import place_status
from tests.daemon.made import Post, farm, readings
from tests.watch.made import HOUR_MS, MINUTE_MS, SOUTH, START_MS, sensor

DAY_MIN: Final = 24 * 60
MOVED_MIN: Final = 3 * DAY_MIN
WARM_C, COLD_C = 18.0, 3.0  # the room's air, and the cooler's
AIR: Final = (Quantity.TEMPERATURE,)


def there(folder: Path, place: str | None) -> Farm:
    """Return a farm whose south sensor hangs in a place, or is not declared."""
    sensors = [sensor("north", AIR)]
    if place is not None:
        sensors.append(sensor("south", AIR, place))
    text = "".join(f'[[sensor]]\nid = "{each.id}"\nplace = "{each.place}"\n' for each in sensors)
    return replace(farm(folder, sensors=sensors), texts={"farm.toml": text}, digest=str(place))


def use(post: Post, found: Farm, minute: float) -> None:
    """Take other files as the daemon does."""
    post.farm, post.clock.now = found, START_MS + round(minute * MINUTE_MS)
    post.judge.use(found, post.clock.now)
    post.ledger.accept_configuration(found.texts, found.digest, post.clock.now, "ida")


def hear(post: Post, pack: list[Reading]) -> None:
    """Store and judge readings, and write what they told."""
    post.hear(pack)
    asyncio.run(post.judge.write())


def south(post: Post) -> object:
    """Return what is known of the south sensor, as far as anything hangs on it."""
    track = post.judge.state.tracks[SOUTH]
    lines = [(each.run, each.spell, each.told_times) for each in track.standings]
    return track.newest, lines, track.trust, track.warming.habits, track.warming.worked


@pytest.fixture(params=["hung elsewhere", "taken away and declared again"])
def lived(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[tuple[Post, Post]]:
    """Yield two farms whose south sensor was three days in the warm room, then in the cooler."""
    posts = []
    for name in ("steady", "stopped"):
        folder = tmp_path / name
        post = Post(there(folder, "room"))
        use(post, there(folder, "room"), 0)
        for day in range(3):
            minutes = range(day * DAY_MIN, (day + 1) * DAY_MIN)
            hear(post, readings(minutes, COLD_C))
            hear(post, readings(minutes, WARM_C, SOUTH))
        if request.param == "taken away and declared again":
            use(post, there(folder, None), MOVED_MIN - 0.6)
        use(post, there(folder, "cooler"), MOVED_MIN - 0.5)
        posts.append(post)
    yield posts[0], posts[1]
    for post in posts:
        post.close()


def test_the_new_place_is_not_judged_by_the_old_ones_past(lived: tuple[Post, Post]) -> None:
    """At once after the move, an hour and two days later: a start anew tells nothing of before."""
    steady, stopped = lived
    for until in (0, 60, 2 * DAY_MIN):
        for post in lived:
            if until:
                minutes = range(MOVED_MIN if until == 60 else MOVED_MIN + 60, MOVED_MIN + until)
                hear(post, readings(minutes, COLD_C))
                hear(post, readings(minutes, COLD_C, SOUTH))
        stopped.judge.note_judged()
        stopped.start()
        asyncio.run(stopped.judge.write())
        assert south(stopped) == south(steady)
    for post in lived:
        assert AlarmKind.TOO_WARM not in {each.key.kind for each in post.ledger.alarms()}


def test_what_arrives_late_from_before_the_move_is_not_the_new_places(
    lived: tuple[Post, Post],
) -> None:
    """A pack of the last hour in the room, come after the move, leaves the cooler as it was."""
    post = lived[0]
    pack = readings(range(MOVED_MIN - 60, MOVED_MIN, 1), WARM_C + 0.5, SOUTH)
    late = [replace(each, received_ms=START_MS + MOVED_MIN * MINUTE_MS) for each in pack]
    hear(post, late)
    assert post.judge.state.tracks[SOUTH].newest is None
    status = place_status(post.judge.state, "cooler", post.clock.now)
    assert [each.state for each in status.channels] == [PlaceState.IN_BAND, PlaceState.UNKNOWN]


def test_the_morning_and_a_replay_leave_out_what_it_told_before(lived: tuple[Post, Post]) -> None:
    """Neither the drift of the last day nor history judged afresh takes the room's warm air."""
    post = lived[0]
    minutes = range(MOVED_MIN, MOVED_MIN + 8 * 60)
    hear(post, readings(minutes, COLD_C, SOUTH))
    hear(post, readings(minutes, COLD_C))
    reader = post.store.reader()
    chores.tell_morning(post.judge, reader, date(2026, 3, 12), post.clock.now)
    assert [each for each in post.ledger.notices() if each.kind is NoticeKind.MORNING] == []
    now_ms = post.clock.now
    posted = posted_since(post.farm, post.ledger.configurations(), now_ms)
    assert posted == {"north": 0, "south": START_MS + round((MOVED_MIN - 0.5) * MINUTE_MS)}
    told = Replay(post.farm, [], reader, START_MS, now_ms, posted).run()
    reader.close()
    assert AlarmKind.TOO_WARM not in {each.raised.key.kind for each in told}
    assert now_ms - START_MS > 8 * HOUR_MS
