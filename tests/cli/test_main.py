"""The command as a whole: what it does with what it is given, and with its output."""

import contextlib
import gc
import subprocess
import sys
from pathlib import Path

import pytest

from monitor.cli import main
from tests.farm.folders import new_folder


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


@pytest.mark.parametrize("words", [("place", "list"), ("batch", "list"), ("alarm", "list")])
def test_an_unset_secret_locks_only_what_needs_it(
    tmp_path: Path, words: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    """With an address in a variable that is not set, the records open and a drill does not."""
    new_folder(tmp_path).change("people.toml", "addresses = []", 'addresses = ["env:NO_SUCH_ONE"]')
    assert main([*words, "--farm", str(tmp_path)]) == 0
    capsys.readouterr()
    assert main(["alarm", "drill", "--farm", str(tmp_path)]) == 2
    assert "NO_SUCH_ONE is not set" in capsys.readouterr().err


def test_the_help_begins_with_what_it_is_for(capsys: pytest.CaptureFixture[str]) -> None:
    """The help says what the program does, not how it is built."""
    with pytest.raises(SystemExit):
        main(["--help"])
    assert "Watch the places and batches of a small flower farm." in capsys.readouterr().out


@pytest.mark.parametrize("words", [["place", "list", "--farm", "nowhere"], ["place", "--odd"]])
def test_a_command_leaves_the_collector_as_it_was(words: list[str]) -> None:
    """Whatever becomes of it: whoever calls it from a program goes on collecting."""
    frozen = gc.get_freeze_count()
    with contextlib.suppress(SystemExit):
        assert main(words) == 2
    assert gc.isenabled()
    assert gc.get_freeze_count() == frozen
