"""Secrets are found where they are said to be, and shown nowhere."""

import string
import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.errors import FarmError
from monitor.farm import Problem, check, load
from tests.farm.folders import NOW_MS, Folder, new_folder

ADDRESS = "json://127.0.0.1:9/hush-hush-token"
WORD = "rumpelstiltskin-7"


def _with_broker(folder: Folder, lines: str) -> Folder:
    return folder.change("farm.toml", "embedded = false", f"embedded = false\n{lines}\n#")


def test_a_secret_comes_from_the_environment(folder: Folder) -> None:
    """``env:NAME`` is the variable's value, without blanks around it."""
    _with_broker(folder, 'user = "farm"\npassword = "env:PASS"')
    password = folder.load(PASS=f" {WORD}\n").broker.password
    assert password is not None
    assert password.get_secret_value() == WORD


def test_a_secret_comes_from_a_file_beside_the_farm(folder: Folder) -> None:
    """``file:PATH`` is the file's content; a relative path begins at the farm's folder."""
    (folder.path / "phone").write_text(f"{ADDRESS}\n", encoding="utf-8")
    folder.change("people.toml", "addresses = []", 'addresses = ["file:phone"]')
    (address,) = folder.load().people["robin"].addresses
    assert address.get_secret_value() == ADDRESS


@pytest.mark.parametrize("value", ["", "  "])
def test_an_unset_variable_is_named(folder: Folder, value: str) -> None:
    """A variable that is unset or empty is an error that names it."""
    _with_broker(folder, 'user = "farm"\npassword = "env:PASS"')
    problem = folder.one("broker.password", PASS=value)
    assert problem.severity == "error"
    assert problem.value == "(secret)"
    assert "PASS is not set" in problem.message


def test_a_password_in_the_file_is_told_and_not_shown(folder: Folder) -> None:
    """A literal password works, with a warning that shows neither it nor its length."""
    _with_broker(folder, f'user = "farm"\npassword = "{WORD}"')
    problem = folder.one("broker.password")
    assert problem.severity == "warning"
    assert problem.value == "(secret)"
    assert "env:" in problem.remedy
    assert folder.load().broker.password is not None


def test_addresses_that_others_may_read_are_told(folder: Folder) -> None:
    """A literal address in a file that others may read is a warning."""
    folder.change("people.toml", "addresses = []", f'addresses = ["{ADDRESS}"]')
    assert folder.check() == []
    (folder.path / "people.toml").chmod(0o644)
    assert "chmod 600" in folder.one("person").remedy


def test_an_address_without_a_service_is_refused(folder: Folder) -> None:
    """An address that is no apprise address is an error that does not show it."""
    folder.change("people.toml", "addresses = []", f'addresses = ["{WORD}"]')
    problem = folder.one("person[robin].addresses[1]")
    assert problem.severity == "error"
    assert WORD not in str(problem)


def test_kept_texts_hold_no_secret(folder: Folder) -> None:
    """The texts that are kept with each accepted configuration have secrets masked."""
    _with_broker(folder, f"user = \"farm\"\npassword = '{WORD}'")
    folder.change("people.toml", "addresses = []", f'addresses = ["{ADDRESS}"]')
    farm = folder.load()
    assert WORD not in farm.texts["farm.toml"]
    assert "password = '(secret)'" in farm.texts["farm.toml"]
    assert ADDRESS not in farm.texts["people.toml"]
    assert 'name = "Robin"' in farm.texts["people.toml"]
    assert "hush" not in repr(farm)
    assert WORD not in repr(farm)


def test_a_secret_written_with_escapes_withholds_its_file(folder: Folder) -> None:
    """Where the text shows the secret in another spelling, the file's text is not kept."""
    _with_broker(folder, 'user = "farm"\npassword = "rum\\u0070elstiltskin-7"')
    assert "elstiltskin" not in folder.load().texts["farm.toml"]


# Where a secret ends up by mistake, and how the line reads then.
PLACES = [
    ("farm.toml", "embedded = false", 'password = "{}"\nbogus = 1'),
    ("farm.toml", "embedded = false", 'pasword = "{}"'),
    ("farm.toml", "embedded = false", 'password = ["{}"]'),
    ("farm.toml", "embedded = false", 'password = {{ value = "{}" }}'),
    ("farm.toml", 'host = "127.0.0.1"', 'host = "farm:{}@barn"'),
    ("farm.toml", 'host = "127.0.0.1"', 'host = "mqtt://{}"'),
    ("people.toml", "addresses = []", 'addresses = "{}"'),
    ("people.toml", "addresses = []", 'addresses = ["{}"]'),
    ("people.toml", "addresses = []", 'adresses = ["{}"]'),
    ("people.toml", "addresses = []", 'addresses = [["{}"]]'),
    ("people.toml", "addresses = []", 'addresses = ["mailto://x:{}@y", 3]'),
    ("people.toml", "addresses = []", 'addresses = ["file:nowhere/at/all", "{}"]'),
    ("people.toml", 'id = "robin"', 'id = "mailto://x:{}@y"'),
    ("people.toml", 'name = "Robin"', 'name = "Robin"\nphone = "{}"'),
]


def _said(folder: Folder) -> str:
    problems: list[Problem] = check(folder.path, {}, NOW_MS)
    said = " ".join(f"{each} {each!r}" for each in problems)
    try:
        return f"{said} {load(folder.path, {}, NOW_MS)!r}"
    except FarmError as failure:
        return f"{said} {failure} {failure!r} {failure.__cause__} {failure.__context__}"


@pytest.mark.parametrize("place", PLACES, ids=[each[2] for each in PLACES])
@settings(max_examples=5)
@given(secret=st.text(string.ascii_letters + string.digits, min_size=12, max_size=30))
def test_no_secret_is_ever_said(place: tuple[str, str, str], secret: str) -> None:
    """No problem, failure or repr shows a secret, wherever a slip puts it."""
    file, old, new = place
    with tempfile.TemporaryDirectory() as name:
        folder = new_folder(Path(name)).change(file, old, new.format(secret))
        assert secret not in _said(folder)


def test_a_command_that_needs_no_secret_is_not_locked_by_a_missing_one(folder: Folder) -> None:
    """Secrets that lead nowhere are empty where none is needed; all else is still checked."""
    _with_broker(folder, 'user = "farm"\npassword = "env:PASS"')
    folder.change("people.toml", "addresses = []", f'addresses = ["file:gone", "{ADDRESS}"]')
    with pytest.raises(FarmError, match="2 mistakes"):
        folder.load()
    farm = load(folder.path, {}, NOW_MS, secrets_needed=False)
    assert farm.broker.password is None
    assert [each.get_secret_value() for each in farm.people["robin"].addresses] == ["", ADDRESS]
    folder.change("farm.toml", "port = 1883", "prot = 1883")
    with pytest.raises(FarmError, match=r"broker\.prot"):
        load(folder.path, {}, NOW_MS, secrets_needed=False)
