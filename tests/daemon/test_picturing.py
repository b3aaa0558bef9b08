"""What the picture of an alarm is made of: its own sensor, six hours, in the farm's unit."""

from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

from monitor.daemon.picturing import Picturing
from monitor.model import Alarm, AlarmKey, AlarmKind, Decision, Priority, Quantity
from monitor.units import TemperatureUnit
from tests.alarms.test_aside import _raised
from tests.courier.made import notice
from tests.daemon.made import Post, farm, readings
from tests.watch.made import NORTH


def _alarm() -> Alarm:
    return replace(_raised(), sensor=NORTH.sensor)


def _picturing(post: Post) -> Picturing:
    return Picturing(lambda: post.farm, post.ledger, post.store.reader, post.clock)


def test_six_hours_are_drawn_in_the_farms_unit(tmp_path: Path) -> None:
    """The trace ends now at its newest value, breaks over a gap, and lies beside the limits."""
    post = Post(farm(tmp_path, units=TemperatureUnit.FAHRENHEIT))
    post.keep(readings([*range(-120, 300), *range(420, 480)], 5.0))
    post.clock.now = readings([480], 5.0)[0].at_ms
    chart = _picturing(post).chart(_alarm())
    assert chart is not None
    assert chart.title.endswith("air 41.0 °F")  # 5 °C by definition
    assert len(chart.runs) == 2
    first, last = chart.runs[0][0], chart.runs[-1][-1]
    assert (round(first[0], 2), round(last[0], 2)) == (0.0, 1.0)
    assert round(last[1], 3) == 41.0
    high = chart.high
    assert high is not None
    assert round(high.value, 3) == round((_alarm().limit or 0.0) * 1.8 + 32.0, 3)
    post.close()


def test_an_alarm_in_the_ledger_becomes_a_picture(post: Post) -> None:
    """A notice of an alarm that the watch raised is drawn; a message of none is not."""
    post.hear(readings(range(46), 7.0))
    decided = post.judge.pending[0]
    raised = replace(_alarm(), id=0, key=decided.key, place=decided.place)
    kept = post.ledger.transact(decided.key, lambda _: Decision(raised, ()), post.clock.now)
    assert kept is not None
    drawn = _picturing(post)(notice(alarm=kept.alarm.id))
    assert drawn is not None
    assert Image.open(BytesIO(drawn)).format == "PNG"
    assert _picturing(post)(notice()) is None


@pytest.mark.parametrize(
    "other",
    [
        {"sensor": "gone"}, {"place": "gone"}, {"quantity": Quantity.DOOR}, {"quantity": None},
        {"key": AlarmKey(AlarmKind.BROKER_LOST, ""), "priority": Priority.HIGH, "sensor": None},
    ],
)  # fmt: skip
def test_nothing_is_drawn_of_what_has_no_figure(post: Post, other: dict[str, object]) -> None:
    """No sensor, no place, no figure or no reading: no picture, and no failure."""
    assert _picturing(post).chart(_alarm()) is None  # nothing was heard yet
    post.keep(readings(range(46), 7.0))
    made: Alarm = replace(_alarm(), **other)  # type: ignore[arg-type]
    assert _picturing(post).chart(made) is None
