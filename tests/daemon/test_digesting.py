"""The digest: once a week or a day, by the farm's clock, over a restart too."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from monitor.daemon import digesting
from monitor.farm import NoticeRules
from monitor.model import NoticeKind
from monitor.notices.digest import due
from tests.daemon.made import Post, readings
from tests.watch.made import HOUR_MS, START_MS


def at(text: str) -> int:
    """Return a time given with its offset. [ms]"""
    return round(datetime.fromisoformat(text).astimezone(UTC).timestamp() * 1000)


def _do(post: Post, now_ms: int) -> list[str]:
    reader = post.store.reader()
    digesting.do(post.judge, reader, now_ms)
    reader.close()
    return [each.body for each in post.ledger.notices() if each.kind is NoticeKind.TOLD]


def test_it_is_told_on_sunday_morning_once(post: Post) -> None:
    """Not at the first start, at seven on the next Sunday, and never twice."""
    zone, rules = post.farm.zone, post.farm.notices
    saturday, sunday = at("2026-03-14T23:00-04:00"), at("2026-03-15T07:00-04:00")
    assert due(due(None, saturday, rules, zone), sunday - 1, rules, zone) is None
    assert _do(post, saturday) == []
    assert _do(post, sunday - 1) == []
    assert len(_do(post, sunday)) == 1
    post.start()
    assert len(_do(post, sunday + 30 * HOUR_MS)) == 1
    assert len(_do(post, sunday + 168 * HOUR_MS)) == 2


@pytest.mark.parametrize(("digest", "times"), [("off", 0), ("daily", 3), ("weekly", 0)])
def test_it_is_as_often_as_the_farm_wants_it(post: Post, digest: str, times: int) -> None:
    """Monday to Thursday have three daily ones, and no other."""
    post.judge.farm = replace(post.farm, notices=NoticeRules(digest=digest))
    monday = at("2026-03-09T12:00-04:00")
    told = [_do(post, monday + hours * HOUR_MS) for hours in range(0, 73, 6)]
    assert len(told[-1]) == times


def test_it_says_how_each_place_did_and_what_it_proves(post: Post) -> None:
    """Hours known, the share in band, the ends, and that the message itself is a test."""
    post.hear(readings(range(60), 3.0))
    post.hear(readings(range(60, 120), 4.6))
    post.judge.farm = replace(post.farm, notices=NoticeRules(digest="daily"))
    _do(post, START_MS - 48 * HOUR_MS)
    (body,) = _do(post, START_MS + 12 * HOUR_MS)
    assert "in band 50 % of 2 hours known; coldest 37.4 °F, warmest 40.3 °F." in body
    assert "No alarms, no messages sent." in body
    assert body.endswith("proves the road to your phone.")
