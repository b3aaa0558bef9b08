"""What the documents say is run: a README's command that fails is a defect."""

import io
import re
import shlex
import tomllib
from pathlib import Path

import pytest

from monitor.cli import VERBS, main

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
LIVE = ("run", "simulate", "demo")  # proved in tests/system
NEEDS_A_PHONE = ("alarm drill",)
NEEDS_AN_ALARM = ("alarm ack", "alarm shelve")


def _commands() -> list[list[str]]:
    """Return the words of each ``cormwatch …`` line of the README, in order."""
    blocks = re.findall(r"```sh\n(.*?)```", README, re.DOTALL)
    lines = "".join(blocks).replace("\\\n", " ").splitlines()
    wanted = [line for line in lines if line.startswith("cormwatch ")]
    return [shlex.split(line, comments=True)[1:] for line in wanted]


def _is(words: list[str], starts: tuple[str, ...]) -> bool:
    return " ".join(words).startswith(starts)


def test_the_readme_names_the_commands_a_grower_needs() -> None:
    """Each of the everyday verbs stands in the README as a line that can be copied."""
    assert {words[0] for words in _commands()} >= {
        "init", "check", "run", "batch", "report", "place", "alarm", "sensor",
    }  # fmt: skip


def test_the_readmes_commands_work_in_the_order_they_stand(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Copied one by one into a shell, each command ends with 0."""
    monkeypatch.chdir(tmp_path)
    for words in _commands():
        if words[0] in LIVE or _is(words, (*NEEDS_A_PHONE, *NEEDS_AN_ALARM)):
            continue
        if "farm" not in words and (tmp_path / "farm").exists():
            monkeypatch.chdir(tmp_path / "farm")
        monkeypatch.setattr("sys.stdin", io.StringIO("wet glove 3am\n"))  # a password is asked for
        code = main(words)
        told = capsys.readouterr()
        assert code == 0, f"{words}: {told.err}"


@pytest.mark.parametrize("words", [each for each in _commands() if each[0] in LIVE])
def test_a_command_that_goes_on_takes_what_the_readme_gives_it(
    words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """The help of each such command names every option the README uses."""
    with pytest.raises(SystemExit, match="0"):
        main([words[0], "--help"])
    told = capsys.readouterr().out
    assert [word for word in words if word.startswith("--") and word not in told] == []


def test_the_readmes_settings_are_toml_with_known_keys() -> None:
    """Each fragment of a farm's file is sound, and its keys stand in the starter's files."""
    starter = "".join((ROOT / "config" / name).read_text() for name in ("farm.toml", "people.toml"))
    fragments = re.findall(r"```toml\n(.*?)```", README, re.DOTALL)
    assert fragments
    for text in fragments:
        assert tomllib.loads(text)
        for key in re.findall(r"^(\w+) = ", text, re.MULTILINE):
            assert re.search(rf"\b{key} = ", starter), key


def test_every_verb_has_a_line_of_help() -> None:
    """A verb without a module, or without words, would be a dead end."""
    for verb, line in VERBS.items():
        assert line
        with pytest.raises(SystemExit, match="0"):
            main([verb, "--help"])


DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
CHECKLIST = DEVELOPERS.partition("### Security checklist")[2].partition("\n## ")[0]


@pytest.mark.parametrize(
    "line", re.findall(r"^\| (?!what holds|-)(.+) \|$", CHECKLIST, re.MULTILINE)
)
def test_each_line_of_the_security_checklist_has_its_tests(line: str) -> None:
    """What is said to be held is held by a test that is there."""
    named = re.findall(r"`(tests/[\w/]+\.py)::(\w+)`", line)
    assert named, line
    for file, test in named:
        assert f"def {test}(" in (ROOT / file).read_text(encoding="utf-8"), f"{file}::{test}"
