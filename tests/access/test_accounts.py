"""Accounts: a file of its own, for its owner only, without a password or token in it."""

import multiprocessing
import os
import stat
from dataclasses import replace
from pathlib import Path

import pytest

from monitor.access.accounts import TOKENS_AT_MOST, Account, accounts_of
from monitor.errors import FarmError
from monitor.model import Role


def test_the_file_is_for_its_owner_only(tmp_path: Path) -> None:
    """Folder and file are closed to others, and no other file is left behind."""
    accounts_of(tmp_path).keep("robin", Account("$argon2id$..."))
    folder = tmp_path / "secrets"
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert [each.name for each in folder.iterdir()] == ["accounts.json"]
    assert stat.S_IMODE((folder / "accounts.json").stat().st_mode) == 0o600


@pytest.mark.skipif(os.geteuid() != 0, reason="only root writes for somebody else")
def test_what_root_writes_belongs_to_the_farms_owner(tmp_path: Path) -> None:
    """A service that owns the folder can read what an administrator has set."""
    os.chown(tmp_path, 12345, 12345)
    for _ in range(2):  # the folder made, and the folder there already
        accounts_of(tmp_path).keep("robin", Account("$argon2id$..."))
        for each in (tmp_path / "secrets", tmp_path / "secrets" / "accounts.json"):
            assert each.stat().st_uid == 12345


def test_a_change_by_another_process_is_seen(tmp_path: Path) -> None:
    """A password set by a command counts in a monitor that runs."""
    running, command = accounts_of(tmp_path), accounts_of(tmp_path)
    assert running.of("robin") == Account()
    command.keep("robin", Account("first"))
    assert running.of("robin").password == "first"  # noqa: S105 - no password
    mark = running.of("robin").mark
    command.keep("robin", replace(command.of("robin"), password="second"))  # noqa: S106 - none
    assert running.of("robin").mark != mark
    command.keep("robin", Account())
    assert running.all() == {}


def test_a_token_is_known_by_its_hash(tmp_path: Path) -> None:
    """A token leads to its person and role; another does not, and the file does not hold it."""
    accounts = accounts_of(tmp_path)
    token = accounts.new_token("robin", Role.SEE, 1)
    assert accounts.by_token(token) == ("robin", Role.SEE)
    assert accounts.by_token(f"{token}x") is None
    assert accounts.by_token("") is None
    assert token not in (tmp_path / "secrets" / "accounts.json").read_text(encoding="utf-8")


@pytest.mark.parametrize("text", ["", "[]", '{"people": {"robin": {}}}', '{"people": 1}'])
def test_a_damaged_file_says_what_to_do(tmp_path: Path, text: str) -> None:
    """It is not taken for a farm without passwords, and the message shows nothing of it."""
    accounts_of(tmp_path).keep("robin", Account("x"))
    (tmp_path / "secrets" / "accounts.json").write_text(text, encoding="utf-8")
    with pytest.raises(FarmError, match="set the passwords anew"):
        accounts_of(tmp_path).all()


def test_no_token_is_ended_in_silence(tmp_path: Path) -> None:
    """One too many is refused, and those there are go on."""
    accounts = accounts_of(tmp_path)
    tokens = [accounts.new_token("robin", Role.SEE, 1) for _ in range(TOKENS_AT_MOST)]
    with pytest.raises(FarmError, match="people token robin --end"):
        accounts.new_token("robin", Role.SEE, 2)
    assert all(accounts.by_token(each) for each in tokens)


def _make_tokens(folder: Path, person: str) -> None:
    for _ in range(TOKENS_AT_MOST):
        accounts_of(folder).new_token(person, Role.SEE, 1)


def test_two_who_write_at_once_lose_nothing(tmp_path: Path) -> None:
    """Commands of two processes, each reading and writing twenty times, keep all of both."""
    meanwhile = multiprocessing.get_context("fork").Process(
        target=_make_tokens, args=(tmp_path, "wren")
    )
    meanwhile.start()
    _make_tokens(tmp_path, "robin")
    meanwhile.join(60)
    assert meanwhile.exitcode == 0
    kept = accounts_of(tmp_path).all()
    assert {person: len(each.tokens) for person, each in kept.items()} == {
        "robin": TOKENS_AT_MOST, "wren": TOKENS_AT_MOST,
    }  # fmt: skip
