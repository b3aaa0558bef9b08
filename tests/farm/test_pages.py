"""``[pages]``: where they listen, by what names and certificate; the older table still read."""

from pathlib import Path

import pytest

from tests.farm.folders import Folder

LISTEN = 'listen = "127.0.0.1:8484"'


def test_the_older_table_is_read_and_told(folder: Folder) -> None:
    """A farm of an earlier version goes on, at the port it had, with a warning what to write."""
    folder.change("farm.toml", "[pages]", "[web]")
    folder.change("farm.toml", LISTEN, 'host = "::1"\nport = 9000\nbase_url = "http://x.local/"')
    web = folder.load().web
    assert (web.host, web.port, web.base_url) == ("::1", 9000, "http://x.local")
    assert folder.one("web").severity == "warning"
    assert "[pages]" in folder.one("web").remedy


def test_both_tables_are_a_mistake(folder: Folder) -> None:
    """Nobody is left to guess which of the two counts."""
    folder.add("farm.toml", "[web]\nport = 9000")
    assert folder.one("web").severity == "error"


@pytest.mark.parametrize(
    "lines",
    ['listen = "0.0.0.0"', 'listen = "127.0.0.1:99999"', 'sign_in = "never"', 'hosts = ["a b"]',
     'certificate = "secrets/pages.crt"'],
)  # fmt: skip
def test_what_cannot_be_meant_is_a_mistake(folder: Folder, lines: str) -> None:
    """No sign-in can be switched off by the file, and no half a certificate is taken."""
    folder.change("farm.toml", LISTEN, lines)
    errors = [each for each in folder.check() if each.severity == "error"]
    assert errors
    assert all(each.key.startswith("pages") for each in errors)


def test_files_are_taken_from_the_farms_folder(folder: Folder) -> None:
    """A certificate is named as the command prints it; encrypted, there is nothing to warn of."""
    (folder.path / "secrets").mkdir(exist_ok=True)
    for name in ("pages.crt", "pages.key"):
        (folder.path / "secrets" / name).touch()
    lines = 'certificate = "secrets/pages.crt"\nkey = "secrets/pages.key"'
    folder.change("farm.toml", LISTEN, f'listen = "0.0.0.0:8484"\n{lines}')
    web = folder.load().web
    assert web.certificate == folder.path / Path("secrets/pages.crt")
    assert [each for each in folder.check() if each.key.startswith("pages")] == []
