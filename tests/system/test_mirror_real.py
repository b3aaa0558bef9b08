"""Readings copied to real servers: nothing is missed, nothing bad keeps others from arriving."""

from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest

from monitor.errors import MirrorError
from monitor.mirror.comparing import Compared, compare
from monitor.model import Channel, Quantity
from tests.system.brokers import wait_until
from tests.system.mirrored import AIR, DAMP, SOIL, Copied
from tests.system.series_servers import Influx, Victoria

pytestmark = pytest.mark.system

DAY = 1_440


@pytest.fixture
def copied(tmp_path: Path, influx: Influx) -> Iterator[Copied]:
    """Yield a store that is copied to InfluxDB."""
    made = Copied(tmp_path / "farm", influx.url)
    yield made
    made.close()


def _compared(copied: Copied) -> Compared:
    with closing(copied.reader()) as reader:
        return compare(reader, copied.query(), copied.forwarder.file.position().cursors)


def _taken(influx: Influx) -> int:
    return influx.count("temperature_c") + influx.count("humidity_pct")


def _outages(influx: Influx) -> list[tuple[Callable[[], None], Callable[[], None]]]:
    return [
        (influx.stop_front, influx.start_front),
        (lambda: influx.close_front(503), lambda: influx.close_front(None)),
        (influx.stop_database, influx.start_database),
        (influx.kill_database, influx.start_database),
    ]


def test_outages_and_restarts_on_both_sides_leave_no_gap(copied: Copied, influx: Influx) -> None:
    """No answer, 503, 502 and a killed server in between, and ours begun anew: all is there."""
    copied.keep(AIR, range(3_000, 2_000, -1))
    copied.until_sent()
    begin = 2_000
    for stop, start in _outages(influx):
        stop()
        copied.keep(AIR, range(begin, begin - 400, -1))
        wait_until(lambda: not copied.step())
        assert copied.forwarder.standing.error
        copied.keep(DAMP, range(begin, begin - 400, -1))
        copied.keep(AIR, range(begin + 9_000, begin + 8_700, -1))  # late: behind the newest
        assert not copied.step()
        copied.restart()
        assert copied.forwarder.standing.failing_since_ms is not None
        start()
        copied.until_sent()
        begin -= 400
    found = _compared(copied)
    assert found.differences == ()
    assert found.readings == 1_000 + 4 * 400 * 2 + 4 * 300 == _taken(influx)
    assert influx.count("temperature_flags") > 1_000


def test_rows_that_come_late_arrive_all_the_same(copied: Copied, influx: Influx) -> None:
    """Behind the cursor, before the first reading, and while a backlog is under way."""
    copied.keep(AIR, range(5_000, 3_000, -2))
    for minutes in (range(4_999, 4_000, -2), range(9_000, 8_000, -1), range(3_999, 3_000, -2)):
        copied.step()
        copied.keep(AIR, minutes)
    copied.until_sent()
    found = _compared(copied)
    assert (found.differences, found.readings) == ((), influx.count("temperature_c"))
    assert found.readings == 1_000 + 500 + 1_000 + 500


def test_bad_points_are_set_aside_and_the_others_arrive(copied: Copied, influx: Influx) -> None:
    """A field that is a whole number there, names no tag can hold, a time before retention."""
    influx.ask("ALTER RETENTION POLICY autogen ON farms DURATION 104w SHARD DURATION 1d")
    influx.write(f"cormwatch,site=elsewhere battery_pct=90i {copied.now_ms - 30 * 60_000}")
    copied.keep(AIR, range(700, 200, -1))
    copied.keep(AIR, range(1_100_000, 1_099_999, -1))
    copied.keep(Channel("cooler-door-side", Quantity.BATTERY), range(30, 29, -1))
    copied.keep(Channel("door\nside", Quantity.HUMIDITY), range(20, 18, -1))
    copied.keep(Channel("door-side\\", Quantity.HUMIDITY), range(10, 9, -1))
    copied.until_sent()
    assert influx.count("temperature_c") == 500
    reasons = {(each.channel, each.reason) for each in copied.forwarder.file.refused()}
    told = {channel.sensor + channel.quantity: reason for channel, reason in reasons}
    assert "retention policy" in told["cooler-door-sidetemperature"]
    assert "field type conflict" in told["cooler-door-sidebattery"]
    assert "newline" in told["door\nsidehumidity"]
    assert "backslash" in told["door-side\\humidity"]
    assert copied.forwarder.file.outcome()[:2] == (500, 5)
    assert copied.forwarder.standing.failing_since_ms is None
    assert {each.channel for each in _compared(copied).differences} == {c for c, _ in reasons}


def test_a_missing_database_is_an_outage_and_loses_nothing(copied: Copied, influx: Influx) -> None:
    """Nobody's reading is set aside because the server is not set up."""
    influx.ask("DROP DATABASE farms")
    copied.keep(AIR, range(50, 0, -1))
    assert not copied.step()
    assert "no such bucket or database" in copied.forwarder.standing.error
    assert copied.forwarder.file.outcome().refused == 0
    influx.ask("CREATE DATABASE farms")
    copied.until_sent()
    assert influx.count("temperature_c") == 50


def test_a_moved_sensor_is_tagged_by_the_place_in_force_then(
    copied: Copied, influx: Influx
) -> None:
    """Before the move the old place, from it on the new one, however late it is sent."""
    moved_ms = copied.now_ms - 100 * 60_000 - 1
    copied.accepted.append((moved_ms, {"cooler-door-side": "tunnel-2"}))
    copied.keep(AIR, range(100, 0, -1))
    copied.keep(AIR, range(300, 100, -1))  # late
    copied.until_sent()
    found = influx.ask('SELECT count("temperature_c") FROM cormwatch GROUP BY place')
    counts = {each["tags"]["place"]: each["values"][0][1] for each in found}
    assert counts == {"walk-in-cooler": 200, "tunnel-2": 100}


def test_what_the_server_lost_is_found_and_sent_again(copied: Copied, influx: Influx) -> None:
    """A day deleted there is named by channel and day, and filling from it mends it."""
    copied.keep(AIR, range(4 * DAY, 0, -1))
    copied.keep(SOIL, range(4 * DAY, 0, -10))
    copied.until_sent()
    day_ms = (copied.now_ms // 86_400_000 - 2) * 86_400_000
    span = f"time >= {day_ms}ms AND time < {day_ms + 86_400_000}ms"
    influx.ask(f"DELETE FROM cormwatch WHERE sensor = 'tunnel-2-soil' AND {span}")
    influx.write(f"cormwatch,site=brook,place=walk-in-cooler,sensor=cooler-door-side "
                 f"temperature_c=99 {copied.now_ms - 60_000}")  # fmt: skip
    found = _compared(copied).differences
    assert [(each.channel, each.there.n) for each in found if each.day_ms == day_ms] == [(SOIL, 0)]
    assert len(found) == 2
    (other,) = [each for each in found if each.day_ms != day_ms]
    assert (other.channel, other.here.n) == (AIR, other.there.n)
    copied.forwarder.file.set_back(day_ms)
    copied.until_sent()
    assert _compared(copied).differences == ()


def test_victoria_metrics_takes_it_as_it_is_and_says_what_it_cannot(
    tmp_path: Path, victoria: Victoria
) -> None:
    """Every value arrives through an outage; comparing is refused in plain words."""
    copied = Copied(tmp_path / "farm", victoria.url)
    copied.keep(AIR, range(900, 400, -1))
    copied.until_sent()
    victoria.stop()
    copied.keep(AIR, range(400, 0, -1))
    copied.keep(AIR, range(1_900, 1_800, -1))
    assert not copied.step()
    copied.restart()
    victoria.start()
    copied.until_sent()
    with closing(copied.reader()) as reader:
        here = reader.series(AIR, 0)
    there: dict[int, float] = {}

    def all_there() -> bool:
        there.update(victoria.points("cormwatch_temperature_c", site="brook"))
        return len(there) == 1_000

    wait_until(all_there)
    assert there == dict(zip(here.at_ms.tolist(), here.raw.tolist(), strict=True))
    with pytest.raises(MirrorError, match="does not answer InfluxQL"):
        _compared(copied)
    copied.close()
