"""``cormwatch simulate`` refuses what it cannot do before anything is published."""

from pathlib import Path

import pytest

from monitor.cli import main


def _fails(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(["simulate", *words]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    return said.err


def test_another_speed_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    """A real-time daemon judges by its own clock, and the demo is named instead."""
    said = _fails(capsys, "--speed", "60")
    assert "own clock" in said
    assert "cormwatch demo" in said


def test_no_time_at_all_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    """Minutes have to be more than none."""
    assert "--minutes 0" in _fails(capsys, "--minutes", "0")


def test_a_folder_without_a_farm_is_refused(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """The message names the missing file."""
    assert "farm.toml" in _fails(capsys, "--farm", str(tmp_path))
