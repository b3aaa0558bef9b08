"""What goes out next."""

from dataclasses import replace

from monitor.courier.choosing import choose, span
from monitor.model import Notice, NoticeKind
from tests.courier.made import MINUTE_MS, NOW_MS, notice

CLEARED = NoticeKind.CLEARED


def _numbered(*notices: Notice) -> list[Notice]:
    return [replace(each, id=number) for number, each in enumerate(notices, start=1)]


def _never(_alarm: int) -> bool:
    return False


def test_the_gravest_goes_first() -> None:
    """A high priority overtakes what was written before it."""
    ready = _numbered(notice(priority="low", title="low"), notice(title="high"))
    parcel = choose(ready, ready, _never, NOW_MS).parcel
    assert parcel is not None
    assert parcel.title == "high"


def test_a_clearing_whose_raise_never_went_is_dropped() -> None:
    """Nobody is told of the end of what they were not told of."""
    ready = _numbered(notice(CLEARED, alarm=5))
    choice = choose(ready, ready, _never, NOW_MS)
    assert choice == (None, (ready[0],))


def test_a_clearing_waits_for_a_raise_that_waits() -> None:
    """Even where it is graver, a clearing never overtakes its raise."""
    ready = _numbered(notice(alarm=5, priority="low"), notice(CLEARED, alarm=5))
    parcel = choose(ready, ready, _never, NOW_MS).parcel
    assert parcel is not None
    assert parcel.notices == (ready[0],)
    only_clearing = choose(ready[1:], ready, _never, NOW_MS)
    assert only_clearing == (None, ())


def test_a_clearing_goes_once_its_raise_went() -> None:
    """After the raise, its clearing is an ordinary notice."""
    ready = _numbered(notice(CLEARED, alarm=5))
    parcel = choose(ready, ready, lambda alarm: alarm == 5, NOW_MS).parcel
    assert parcel is not None
    assert parcel.notices == tuple(ready)


def test_after_an_outage_one_message_tells_all() -> None:
    """Thirty alarms of forty minutes become one message marked late, standing ones first."""
    alarms = [
        notice(alarm=number, title=f"alarm {number}", priority="low" if number < 30 else "high")
        for number in range(1, 31)
    ]
    cleared = notice(CLEARED, alarm=7, title="alarm 7 is over", due_ms=NOW_MS + 20 * MINUTE_MS)
    ready = _numbered(*(replace(each, attempts=3) for each in alarms), cleared)
    choice = choose(ready, ready, _never, NOW_MS + 40 * MINUTE_MS)
    assert choice.parcel is not None
    assert {each.id for each in choice.parcel.notices} == set(range(1, 32))
    assert choice.parcel.title == "30 messages, up to 40 min late"
    paragraphs = choice.parcel.body.split("\n\n")
    assert paragraphs[0].startswith("alarm 30 (40 min ago)")
    assert paragraphs[-1] == "Over, 20 min ago: alarm 7; then alarm 7 is over"
    assert choice.orphans == ()


def test_one_late_notice_says_how_late() -> None:
    """A single notice that could not go in time is marked."""
    ready = _numbered(notice(title="Tunnel is freezing"))
    parcel = choose(ready, ready, _never, NOW_MS + 6 * MINUTE_MS).parcel
    assert parcel is not None
    assert parcel.title == "6 min late: Tunnel is freezing"


def test_spans_in_words() -> None:
    """Minutes, hours, or both."""
    assert [span(minutes * MINUTE_MS) for minutes in (0, 40, 120, 130)] == [
        "0 min", "40 min", "2 h", "2 h 10 min",
    ]  # fmt: skip
