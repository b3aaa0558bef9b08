"""``cormwatch check`` names every mistake and ends with 2 if there is one."""

import json
from pathlib import Path

import pytest

from monitor.cli import main
from tests.farm.folders import new_folder


def test_a_sound_farm_ends_with_zero(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Warnings alone leave the exit code 0, and the farm can be used."""
    new_folder(tmp_path)
    assert main(["check", "--farm", str(tmp_path)]) == 0
    printed = capsys.readouterr()
    assert "warning: people.toml" in printed.out
    assert "Brindlewick Flowers can be used, with 1 warning: 6 places, 8 sensors" in printed.out
    assert "1 person." in printed.out
    assert printed.err == ""


def test_mistakes_go_to_standard_error_with_exit_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each mistake is a line on standard error, and the exit code is 2."""
    folder = new_folder(tmp_path).change("farm.toml", "port = 1883", "prot = 1883")
    folder.change("crops.toml", 'least = "3 h"', 'least = "5 h"')
    assert main(["check", "--farm", str(tmp_path)]) == 2
    said = capsys.readouterr().err
    assert "error: farm.toml: broker.prot: this key is not known; did you mean port?" in said
    assert "error: crops.toml: crop[ranunculus].stage[soak].least" in said
    assert "2 mistakes" in said


def test_json_alone_stands_on_standard_output(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """With --json the problems are JSON, a missing value null, the exit code the same."""
    new_folder(tmp_path).change("farm.toml", "port = 1883", "port = 70000")
    assert main(["check", "--json", "--farm", str(tmp_path)]) == 2
    printed = capsys.readouterr()
    first, second = json.loads(printed.out)
    assert (first["severity"], first["file"], first["key"], first["value"]) == (
        "error", "farm.toml", "broker.port", "70000",
    )  # fmt: skip
    assert second["value"] is None
    assert printed.err == ""


def test_a_folder_without_a_farm_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """In a folder that has no farm, check says how to begin one."""
    monkeypatch.chdir(tmp_path)
    assert main(["check"]) == 2
    assert "cormwatch init DIR" in capsys.readouterr().err


def test_a_farm_without_a_warning_is_sound(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Once somebody can be told, nothing is warned of and the farm is called sound."""
    new_folder(tmp_path).change("people.toml", "addresses = []", 'addresses = ["json://barn"]')
    assert main(["check", "--farm", str(tmp_path)]) == 0
    assert "is sound: 6 places" in capsys.readouterr().out
