"""What a return cost is reckoned from the stored readings, whoever was there to see them."""

import asyncio
import logging
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from monitor.batches import fold
from monitor.daemon.costing import Costing
from monitor.errors import StoreError
from monitor.model import Alarm, EntryKind, NewEntry
from monitor.store import ReadingReader
from tests.daemon.made import Post, farm, readings
from tests.watch import made
from tests.watch.made import START_MS

STEMS: dict[str, Any] = {
    "crop": "ranunculus", "cultivar": "Dawn Apricot", "count": 320, "unit": "stems",
    "place": "cooler", "stage": "cut_stems",
}  # fmt: skip
CALM, OUT, AFTER = range(-600, 0), range(600), range(600, 640)


def _post(folder: Path) -> Post:
    folder.mkdir()
    post = Post(farm(folder, places=[made.cooler(lag_s=3600.0)]))
    new = NewEntry(None, EntryKind.ADDED, START_MS - 40 * made.HOUR_MS, "wren", STEMS)
    post.ledger.write_entries(lambda _: [new], START_MS)
    post.clock.now = START_MS - 600 * made.MINUTE_MS
    post.start()
    return post


@pytest.fixture
def posts(tmp_path: Path) -> Iterator[tuple[Post, Post]]:
    """Yield two equal farms with stems in the cooler."""
    both = _post(tmp_path / "one"), _post(tmp_path / "other")
    yield both
    for each in both:
        each.close()


def _live(post: Post, *, stops: tuple[int, ...] = ()) -> Alarm:
    """Live through ten hours at 12.5 °C, stopped and started anew at some minutes."""
    for minutes, value_c in ((CALM, 2.5), (OUT, 12.5), (AFTER, 2.5)):
        for minute in minutes:
            if minute in stops:
                post.judge.note_judged()
                post.start()
            post.hear(readings([minute], value_c))
            if post.judge.pending:
                asyncio.run(post.judge.write())
    (alarm,) = [each for each in post.ledger.alarms() if each.key.kind.value == "too_warm"]
    assert alarm.returned_ms is not None
    return alarm


def test_ten_hours_out_are_told_with_their_cost(posts: tuple[Post, Post]) -> None:
    """Ten hours, longer than any tail that is kept: 10 K over 2.5 °C with a lag of 1 h.

    Up to 10 °C by Q10 3, above by the handbook's 2.5 a 10 K (USDA Agriculture Handbook 66): at
    12.5 °C a rate of 3^0.75 · 2.5^0.25 = 2.866 against 2.5 °C. As with one Q10 all the way
    to that rate, a = ln 2.866, warming up loses sum of a^n (-1)^(n+1)/(n n!) = 0.83 h of it and
    cooling down adds sum of a^n/(n n!) = 1.41 h: 2.866(10 - 0.83) - 10 + 1.41 = 17.7 h. The
    bend of the curve at 10 °C is left out of that sum, so it holds to half an hour only.
    """
    alarm = _live(posts[0])
    assert alarm.facts["cost"]["extra_s"] / 3600 == pytest.approx(17.7, abs=0.5)
    assert "flowers at most 54.5 °F: about 18 hours of cooler time lost." in alarm.text
    (cleared,) = [
        each for each in posts[0].ledger.notices_of(alarm.id) if each.kind.value == "cleared"
    ][:1]
    assert "about 18 hours of cooler time lost." in cleared.body


def test_a_restart_changes_nothing_of_it(posts: tuple[Post, Post]) -> None:
    """Stopped before, within and late in the spell, the same words and figures are told."""
    never, often = _live(posts[0]), _live(posts[1], stops=(-30, 200, 550, 601))
    assert often.facts["cost"] == never.facts["cost"]
    assert often.text == never.text


def test_a_store_that_cannot_be_read_costs_the_figure_only(
    posts: tuple[Post, Post], caplog: pytest.LogCaptureFixture
) -> None:
    """The return is told without its cost, and the log says why."""

    def broken() -> ReadingReader:
        raise StoreError("the disk is gone")

    post = posts[0]
    post.judge.reckon = Costing(broken)
    with caplog.at_level(logging.WARNING):
        alarm = _live(post)
    assert "cost" not in alarm.facts
    assert "back in band" in alarm.text
    assert "the disk is gone" in caplog.text
    assert fold(post.ledger.entries()).batches[1].unit == "stems"
