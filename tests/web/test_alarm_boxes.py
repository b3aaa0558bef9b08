"""What the pages make of an alarm: the present first, and a stored text with its time."""

from collections.abc import Iterator
from dataclasses import replace

import pytest

from monitor.alarms import happened
from monitor.model import Alarm, AlarmKey, AlarmKind, AlarmState
from monitor.watch.state import Shown
from monitor.web.alarm_boxes import box
from monitor.web.look import Look
from tests.web.desk import COOLER, DAY_MS, HOUR_MS, MINUTE_MS, NOW_MS, SmallDesk, furnished


@pytest.fixture(scope="module")
def own_desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[SmallDesk]:
    """Yield a desk with one alarm, that of the cooler."""
    made = furnished(tmp_path_factory.mktemp("boxes") / "farm")
    yield made
    made.close()


def _alarm(desk: SmallDesk, raised_ms: int) -> Alarm:
    found = desk.ledger.alarm(1)
    return replace(found, began_ms=raised_ms - HOUR_MS, raised_ms=raised_ms)


def test_an_old_text_stands_with_the_time_it_was_told(own_desk: SmallDesk) -> None:
    """Told more than half an hour ago it has its weekday and time; a newer one stands alone."""
    look = Look.at(own_desk)
    # NOW is Wednesday, 25 November 2026, 12:00 in New York
    assert box(look, _alarm(own_desk, NOW_MS - 29 * MINUTE_MS)).told == ""
    assert box(look, _alarm(own_desk, NOW_MS - 31 * MINUTE_MS)).told == "As told at 11:29:"
    assert box(look, _alarm(own_desk, NOW_MS - DAY_MS)).told == "As told at Tuesday 12:00:"


def test_the_present_stands_first(own_desk: SmallDesk) -> None:
    """The line of now has the watch's newest value, and says so when nothing is known."""
    track = own_desk.watch().tracks[COOLER]
    others = {
        key: replace(each, shown=None)
        for key, each in own_desk.watch().tracks.items()
        if key.sensor.startswith("cooler") and key != COOLER
    }
    warm = replace(track, shown=Shown(NOW_MS, 15.0, trusted=True))
    before = own_desk.watch()
    try:
        own_desk._watch = replace(before, tracks={**before.tracks, **others, COOLER: warm})
        # exact definition: 15 °C is 59 °F
        assert box(Look.at(own_desk), _alarm(own_desk, NOW_MS - DAY_MS)).now == "Now: air 59.0 °F"
        none = {**others, COOLER: replace(track, shown=None)}
        own_desk._watch = replace(before, tracks={**before.tracks, **none})
        look = Look.at(own_desk)
        assert box(look, _alarm(own_desk, NOW_MS - DAY_MS)).now == "Now: not known"
    finally:
        own_desk._watch = before


def test_an_old_value_is_not_called_the_present(own_desk: SmallDesk) -> None:
    """Five hours after the last reading nothing is known now; the last figure has its age."""
    look = replace(Look.at(own_desk), now_ms=NOW_MS + 5 * HOUR_MS)
    told = box(look, _alarm(own_desk, NOW_MS)).now
    assert told.startswith("Now: not known (last air 4")
    assert told.endswith("°F, 5 h ago)")


def test_a_past_alarm_says_what_happened_and_for_how_long(own_desk: SmallDesk) -> None:
    """It is titled by what was wrong; its time runs to the crossing back, as its text has it."""
    began_ms = NOW_MS - 5 * HOUR_MS
    past = replace(
        _alarm(own_desk, began_ms + HOUR_MS), began_ms=began_ms,
        key=AlarmKey(AlarmKind.TOO_COLD, "tunnel-2"), place="tunnel-2", state=AlarmState.NORMAL,
        title="Tunnel 2 is back in band", returned_ms=began_ms + 2 * HOUR_MS + 3 * MINUTE_MS,
        facts={"back_ms": began_ms + 2 * HOUR_MS, "out_s": 7200.0},
    )  # fmt: skip
    told = box(Look.at(own_desk), past)
    assert told.happened == "Tunnel 2 was too cold"
    assert told.when == "07:00 to 09:00, for 2 h"
    assert told.now == ""


def test_a_day_is_said_once_of_a_past_alarm(own_desk: SmallDesk) -> None:
    """From and to on one day name it once; over midnight each has its own."""
    raised = _alarm(own_desk, NOW_MS - DAY_MS)
    over = replace(raised, state=AlarmState.NORMAL, returned_ms=NOW_MS - DAY_MS)
    assert box(Look.at(own_desk), over).when == "yesterday 11:00 to 12:00, for 1 h"
    late = replace(over, returned_ms=NOW_MS - DAY_MS + 13 * HOUR_MS)
    assert box(Look.at(own_desk), late).when == "yesterday 11:00 to 01:00, for 14 h"


@pytest.mark.parametrize("kind", list(AlarmKind))
def test_every_kind_says_what_happened(own_desk: SmallDesk, kind: AlarmKind) -> None:
    """Each kind has words of the past, and none of them a name of a field."""
    look = Look.at(own_desk)
    alarm = replace(_alarm(own_desk, NOW_MS), key=AlarmKey(kind, "walk-in-cooler"))
    told = happened(alarm, look.wording)
    past = ("was", "were", "had", "heard", "could", "came", "stood", "worked", "reached")
    assert any(word in told for word in past)
    assert not {"_", "{"} & set(told)
