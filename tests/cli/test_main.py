"""The command as a whole: what it does with what it is given, and with its output."""

import subprocess
import sys
from pathlib import Path

import pytest

from monitor.cli import main


def test_a_reader_that_has_read_enough_is_no_failure(tmp_path: Path) -> None:
    """Output that is cut off, as by head, ends a command without a word."""
    assert main(["init", str(tmp_path / "farm"), "--yes"]) == 0
    command = [sys.executable, "-m", "monitor", "sensor", "list", "--json", "--farm"]
    with subprocess.Popen(
        [*command, str(tmp_path / "farm")], stdout=subprocess.PIPE, stderr=subprocess.PIPE
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        assert process.stderr.read() == b""
        assert process.wait(30) == 0


def test_a_failure_is_one_line_on_standard_error_and_exit_code_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What the user can mend is told on standard error alone, and ends with 2."""
    assert main(["place", "list", "--farm", str(tmp_path)]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.startswith("cormwatch place: ")
    assert "cormwatch init" in told.err
