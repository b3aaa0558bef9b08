"""Copies by the day: made when due, so many kept, told of where they fail."""

import os
import re
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from datetime import time
from pathlib import Path

import pytest

from monitor.daemon import backing, chores
from monitor.daemon.backing import AGAIN_MS, OLD_MS, Backups, due_ms, troubles
from monitor.farm import FILES, Backup
from monitor.languages import in_language
from monitor.model import NoticeKind
from monitor.store import read_copy
from monitor.store.copying import COPYING
from tests.daemon.made import HandClock, Post, farm, readings
from tests.system.disks import small_disk
from tests.watch.made import HOUR_MS, START_MS

DAY_MS = 24 * HOUR_MS


class Kept(Post):
    """A post whose farm is copied each day into a folder."""

    def __init__(self, folder: Path) -> None:
        home = folder / "farm"
        home.mkdir()
        for name in FILES:
            (home / name).write_text(f"# {name}\n", "utf-8")
        self.stick = folder / "stick"
        super().__init__(farm(home, backup=Backup(self.stick, time(2, 30), 3)), HandClock())
        self.backups = Backups(lambda: self.farm, self.ledger, self.clock)

    def at(self, hours: float) -> bool:
        """Turn so many hours after the start; return whether a copy was made."""
        self.clock.now = START_MS + round(hours * HOUR_MS)
        return self.backups.turn()

    def troubles(self) -> list[str]:
        """Return what the page tells of it now."""
        words = self.judge.words
        return troubles(self.farm, self.backups.standing, words, self.clock.now)

    def names(self) -> list[str]:
        """Return what lies on the stick."""
        return sorted(each.name for each in self.stick.iterdir())


@pytest.fixture
def kept(tmp_path: Path) -> Iterator[Kept]:
    """Yield a farm with some readings."""
    with closing(Kept(tmp_path)) as kept:
        kept.hear(readings(range(5), 3.0))
        yield kept


def test_a_copy_is_made_once_a_day_and_a_missed_one_is_made_up_for(kept: Kept) -> None:
    """At its hour by the farm's clock; one is made at the start, and after days off."""
    kept.stick.mkdir()
    made = [hours for hours in range(40) if kept.at(hours)]
    first_due = due_ms(kept.farm.backup or Backup(kept.stick), kept.farm, START_MS + DAY_MS)
    hours_to_due = -(-(first_due - START_MS) // HOUR_MS)
    assert made == [0, hours_to_due] or made == [0, hours_to_due, hours_to_due + 24]
    assert not kept.at(40)
    assert kept.at(40 + 24 * 9)
    found = read_copy(Path(kept.backups.standing.path))
    assert found.rows["readings.db"]["readings"] == 5
    assert Path(kept.backups.standing.path).stat().st_mode & 0o777 == 0o600


def test_only_so_many_stay_and_nothing_else_is_touched(kept: Kept) -> None:
    """The newest three of this farm; another farm's, one made by hand and a photograph remain."""
    kept.stick.mkdir()
    others = ["cormwatch-hill-2020-01-01.zip", "cormwatch-20200101T000000+0000.zip", "corms.jpg"]
    for each in others:
        (kept.stick / each).write_bytes(b"")
    for day in range(6):
        assert kept.at(24 * day)
    daily = [each for each in kept.names() if each not in others]
    assert len(daily) == 3
    assert set(others) <= set(kept.names())
    assert daily[-1] == Path(kept.backups.standing.path).name


def test_copies_of_a_clock_that_ran_ahead_push_out_no_later_one(kept: Kept) -> None:
    """Set right again, the clock names a copy by an earlier day: it stays, and is the newest."""
    kept.stick.mkdir()
    for day in (4_000, 4_001, 4_002, 1, 2):
        assert kept.at(24 * day)
        newest = Path(kept.backups.standing.path)
        assert newest.exists()
        assert len(kept.names()) <= 3
    assert read_copy(newest).rows["readings.db"]["readings"] == 5


def test_one_that_fails_is_told_on_the_page_and_in_the_morning(kept: Kept) -> None:
    """The stick is out: nothing is made in its place; tried again each hour, then quiet."""
    assert not kept.at(0)
    assert not kept.stick.exists()
    (told,) = kept.troubles()
    assert "is its disk in?" in told
    assert "There is none yet." in told
    spanish = in_language(told, "es")
    assert spanish.startswith(f"No se puede hacer la copia diaria de la granja: {kept.stick} no ")
    assert spanish.endswith("Todavía no hay ninguna.")
    kept.stick.mkdir()
    assert not kept.at(0.5)
    with closing(kept.store.reader()) as reader:
        chores.do(kept.judge, reader, START_MS)
        chores.do(kept.judge, reader, START_MS + DAY_MS)
    (morning,) = [e for e in kept.ledger.notices() if e.kind is NoticeKind.MORNING]
    assert told in morning.body
    assert kept.at(AGAIN_MS / HOUR_MS + 0.01)
    assert kept.troubles() == []
    kept.clock.now += OLD_MS + 1
    (overdue,) = kept.troubles()
    assert "overdue" in overdue
    assert "atrasada" in in_language(overdue, "es")


def test_secrets_in_the_copies_are_told_once(kept: Kept, caplog: pytest.LogCaptureFixture) -> None:
    """In the log where they are new, by place and never themselves; in the settings always."""
    people = kept.farm.directory / "people.toml"
    people.write_text('[[person]]\nid = "ida"\naddresses = ["json://hush"]\n', "utf-8")
    kept.stick.mkdir()
    assert [kept.at(24 * day) for day in range(3)] == [True] * 3
    where = "people.toml person[1].addresses[1]"
    assert caplog.text.count(f"secrets stand written out in the daily copies: {where}") == 1
    _, held = backing.told(kept.backups.standing, kept.judge.words, kept.clock.now)
    assert held.endswith(f"keep it as private as them: {where}.")
    assert in_language(held, "es").startswith("Hay SECRETOS escritos")
    kept.backups = Backups(lambda: kept.farm, kept.ledger, kept.clock)
    assert kept.at(24 * 3)
    assert caplog.text.count("secrets stand written out") == 1
    assert "hush" not in caplog.text + held
    people.write_text('addresses = ["json://hu', "utf-8")
    assert kept.at(24 * 4)
    assert kept.backups.standing.secrets == ["people.toml"]
    people.write_text('[[person]]\nid = "ida"\n', "utf-8")
    assert kept.at(24 * 5)
    _, none = backing.told(kept.backups.standing, kept.judge.words, kept.clock.now)
    assert none == "No secret stands written out in it."


def test_a_changed_table_is_tried_at_once(kept: Kept) -> None:
    """Whoever mends the folder's name need not wait an hour."""
    assert not kept.at(0)
    other = kept.stick.with_name("other")
    other.mkdir()
    kept.farm = replace(kept.farm, backup=Backup(other))
    assert kept.at(0.01)


def test_a_copy_is_not_begun_where_it_would_fill_the_disk(kept: Kept) -> None:
    """On a real small disk: what is free and what it takes is told, and nothing is left there."""
    with small_disk(kept.stick, 20):
        assert not kept.at(0)
        (told,) = kept.troubles()
        assert re.search(r"has 2\d MB free, and a copy takes up to 3\d MB", told)
        assert re.search(r"tiene 2\d MB libres, .* hasta 3\d MB", in_language(told, "es"))
        assert kept.names() == []


def test_what_an_interrupted_copy_left_is_taken_away(kept: Kept) -> None:
    """After a day; one that is being made is not touched, nor what a person keeps there."""
    kept.stick.mkdir()
    for name in (f"{COPYING}old", f"{COPYING}new", ".copy-of-photographs"):
        (kept.stick / name).mkdir()
        (kept.stick / name / "readings.db").write_bytes(b"x")
    for name in (f"{COPYING}old", ".copy-of-photographs"):
        os.utime(kept.stick / name, (1, 1))
    assert kept.at(0)
    assert kept.names()[:2] == [".copy-of-photographs", f"{COPYING}new"]
    assert len(kept.names()) == 3
