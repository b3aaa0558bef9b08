"""``cormwatch people``: who reaches the pages from elsewhere."""

import io
import json
from pathlib import Path

import pytest

from monitor.access.accounts import accounts_of
from monitor.access.passwords import fits
from monitor.cli import main
from monitor.model import Role


@pytest.fixture
def folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    """Return a starter farm's folder."""
    main(["init", str(tmp_path / "farm"), "--yes"])
    capsys.readouterr()
    return tmp_path / "farm"


def _typed(monkeypatch: pytest.MonkeyPatch, text: str) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO(text))


def test_a_new_farm_has_no_password(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """There is no account that everybody knows of."""
    assert main(["people", "list", "--json", "--farm", str(folder)]) == 0
    rows = json.loads(capsys.readouterr().out)
    assert rows == [
        {"id": "robin", "name": "Robin", "role": "change", "password_set": False,
         "tokens": 0, "addresses": 0},
    ]  # fmt: skip


def test_a_password_is_read_from_standard_input(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is kept as a hash, and neither it nor the hash is ever printed."""
    _typed(monkeypatch, "wet glove 3am\n")
    assert main(["people", "password", "Robin", "--stdin", "--farm", str(folder)]) == 0
    main(["people", "list", "--farm", str(folder)])
    told = capsys.readouterr()
    assert "Robin (robin): change, password set" in told.out
    stored = accounts_of(folder).of("robin").password
    assert fits(stored, "wet glove 3am")
    for text in ("wet glove", "argon2"):
        assert text not in told.out + told.err


@pytest.mark.parametrize(("typed", "why"), [("short", "at least 8"), ("password1", "choose")])
def test_a_weak_password_is_refused(
    folder: Path, typed: str, why: str,
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    """The command ends with 2, says why, does not repeat it, and the old one stays."""
    _typed(monkeypatch, "wet glove 3am\n")
    main(["people", "password", "robin", "--stdin", "--farm", str(folder)])
    _typed(monkeypatch, f"{typed}\n")
    assert main(["people", "password", "robin", "--stdin", "--farm", str(folder)]) == 2
    said = capsys.readouterr().err
    assert why in said
    assert typed not in said
    assert fits(accounts_of(folder).of("robin").password, "wet glove 3am")


def test_a_password_is_taken_away(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Removed, nothing fits any more."""
    _typed(monkeypatch, "wet glove 3am\n")
    main(["people", "password", "robin", "--stdin", "--farm", str(folder)])
    assert main(["people", "password", "robin", "--remove", "--farm", str(folder)]) == 0
    assert accounts_of(folder).of("robin").password is None


def test_an_unknown_person_is_refused(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Passwords are for the farm's people."""
    assert main(["people", "password", "wren", "--stdin", "--farm", str(folder)]) == 2
    assert "people.toml" in capsys.readouterr().err


def test_a_token_is_shown_once_and_ended(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The token alone stands on standard output; ended, it is known no more."""
    assert main(["people", "token", "robin", "--farm", str(folder)]) == 0
    token = capsys.readouterr().out.strip()
    assert accounts_of(folder).by_token(token) == ("robin", Role.SEE)
    assert main(["people", "token", "robin", "--end", "--farm", str(folder)]) == 0
    assert accounts_of(folder).by_token(token) is None
