"""Sessions: random, kept as hashes, over a restart, and for so long only."""

import json
import stat
from pathlib import Path

import pytest

from monitor.access.sessions import ABSOLUTE_S, EACH_AT_MOST, IDLE_S, Sessions, key_of
from monitor.clock import monotonic_s


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """Return where sessions are kept."""
    return tmp_path / "data" / "sessions.json"


def test_only_the_hash_is_kept_and_for_its_owner(file: Path) -> None:
    """The file holds no id of a session, and nobody else may read it."""
    session_id = Sessions(file).begin("robin", "m", monotonic_s())
    assert len(session_id) >= 22  # 128 bits in base64
    assert session_id not in file.read_text(encoding="utf-8")
    assert stat.S_IMODE(file.stat().st_mode) == 0o600


def test_a_restart_keeps_who_is_signed_in(file: Path) -> None:
    """A session is found by the next run of the program, with its person and its age."""
    now_s = monotonic_s()
    sessions = Sessions(file)
    session_id = sessions.begin("robin", "m", now_s - 100)
    sessions.begin("wren", "m", now_s)
    found = Sessions(file).find(session_id, monotonic_s())
    assert found is not None
    assert (found.person, found.mark) == ("robin", "m")
    assert found.began_s == pytest.approx(now_s - 100, abs=1.0)


def test_signing_out_ends_it_over_a_restart_too(file: Path) -> None:
    """An ended session is found no more, now or by the next run."""
    sessions = Sessions(file)
    one, other = (sessions.begin("robin", "m", monotonic_s()) for _ in range(2))
    sessions.end(one, monotonic_s())
    assert sessions.find(one, monotonic_s()) is None
    assert Sessions(file).find(one, monotonic_s()) is None
    assert Sessions(file).find(other, monotonic_s()) is not None


def test_signing_in_again_renews_the_id(file: Path) -> None:
    """The id that was brought along is worth nothing after a sign-in."""
    sessions = Sessions(file)
    first = sessions.begin("robin", "m", 10.0)
    second = sessions.begin("robin", "m", 11.0, instead_of=first)
    assert first != second
    assert sessions.find(first, 12.0) is None
    assert sessions.find("an id of the visitor's own choice", 12.0) is None


def test_a_session_ends_when_it_is_not_used(file: Path) -> None:
    """A week without a look ends it."""
    sessions = Sessions(file)
    used = sessions.begin("robin", "m", 0.0)
    idle = sessions.begin("robin", "m", 0.0)
    assert sessions.find(used, IDLE_S - 1) is not None
    assert sessions.find(idle, IDLE_S + 1) is None
    assert sessions.find(used, IDLE_S + 1) is not None


def test_a_session_ends_however_much_it_is_used(file: Path) -> None:
    """Thirty days after signing in it ends."""
    sessions, days = Sessions(file), 86_400.0
    session_id = sessions.begin("robin", "m", 0.0)
    for day in range(1, 30):
        assert sessions.find(session_id, day * days) is not None
    assert sessions.find(session_id, ABSOLUTE_S) is None


def test_a_clock_set_back_lengthens_no_session(file: Path) -> None:
    """A session that would have begun in the future is over at the next start."""
    session_id = Sessions(file).begin("robin", "m", monotonic_s())
    kept = json.loads(file.read_text(encoding="utf-8"))
    for one in kept.values():
        one["began_ms"] += 3_600_000
    file.write_text(json.dumps(kept), encoding="utf-8")
    assert Sessions(file).find(session_id, monotonic_s()) is None


@pytest.mark.parametrize("text", ["", "{", "[]", '{"x": {"person": 1}}', '{"x": null}'])
def test_a_damaged_file_signs_everyone_out(file: Path, text: str) -> None:
    """What cannot be read is no session, and no failure either."""
    file.parent.mkdir()
    file.write_text(text, encoding="utf-8")
    assert Sessions(file).find("x", 1.0) is None


def test_nobody_piles_sessions_up(file: Path) -> None:
    """Of one person's sessions the newest twenty go on."""
    sessions = Sessions(file)
    ids = [sessions.begin("robin", "m", float(number)) for number in range(EACH_AT_MOST + 2)]
    alive = [sessions.find(each, 30.0) is not None for each in ids]
    assert alive == [False] * 2 + [True] * EACH_AT_MOST


def test_the_key_of_forms_is_the_sessions_own() -> None:
    """Each session has a key of its own, which does not show the id."""
    assert key_of("one") != key_of("other")
    assert "one" not in key_of("one")


def test_when_it_was_used_is_kept_once_an_hour(file: Path) -> None:
    """A look at a page does not write to the disk each time."""
    sessions = Sessions(file)
    session_id = sessions.begin("robin", "m", 0.0)
    before = file.stat().st_ino
    sessions.find(session_id, 60.0)
    sessions.save_if_due(60.0)
    assert file.stat().st_ino == before
    sessions.save_if_due(3_700.0)
    assert file.stat().st_ino != before
