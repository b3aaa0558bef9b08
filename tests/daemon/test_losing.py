"""A record of batches that was lost with its file: told to people, and over once one stands."""

import asyncio
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from pydantic import SecretStr

from monitor.daemon import losing
from monitor.farm import Person
from monitor.languages import translator
from monitor.model import Alarm, AlarmKind, AlarmState, EntryKind, NewEntry, NoticeKind, Priority
from monitor.store import LOST
from tests.daemon.made import HandClock, Post, farm
from tests.watch.made import START_MS


@pytest.fixture
def post(tmp_path: Path) -> Iterator[Post]:
    """Yield a farm that is watched, for one who reads English and one who reads Spanish."""
    address = (SecretStr("json://one"),)
    people = {
        "ida": Person("ida", "Ida", address),
        "sol": Person("sol", "Sol", address, speak=translator("es")),
    }
    with closing(Post(farm(tmp_path, people=people), HandClock())) as post:
        yield post


def _minded(post: Post) -> list[Alarm]:
    losing.mind(post.judge)
    asyncio.run(post.judge.write())
    return [each for each in post.ledger.alarms() if each.key.kind is AlarmKind.RECORD_LOST]


def test_a_lost_record_is_told_to_people_once(post: Post) -> None:
    """What is lost, where the file lies, and what puts it back, in each one's language."""
    assert _minded(post) == []
    post.ledger.put(LOST, "ledger-damaged-1.db")
    (alarm,) = _minded(post)
    assert alarm.priority is Priority.HIGH
    told = {each.person: each for each in post.ledger.notices_of(alarm.id)}
    assert {each.kind for each in told.values()} == {NoticeKind.RAISED}
    for one, word, other in (("ida", "copy", "copia"), ("sol", "copia", "copy")):
        words = set(told[one].body.replace(". ", " ").split())
        assert {"ledger-damaged-1.db", "backup", word} <= words
        assert other not in words
    post.start()
    assert len(_minded(post)) == 1
    assert len(post.ledger.notices_of(alarm.id)) == 2


def test_it_is_over_once_a_batch_stands_in_the_record(post: Post) -> None:
    """A loading that is noted ends nothing; a batch that is recorded does."""
    post.ledger.put(LOST, "ledger-damaged-1.db")
    _minded(post)
    data = {"crop": "ranunculus", "cultivar": "Dawn Apricot", "count": 40, "unit": "stems",
            "stage": "cut_stems", "place": "cooler"}  # fmt: skip
    new = NewEntry(None, EntryKind.ADDED, START_MS, "ada", data)
    post.ledger.write_entries(lambda _: [new], START_MS)
    post.judge.reread(post.ledger.entries(), START_MS)
    (alarm,) = _minded(post)
    assert alarm.state is AlarmState.RETURNED_UNACKNOWLEDGED
