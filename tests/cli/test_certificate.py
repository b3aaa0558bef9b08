"""``cormwatch certificate``: made by one command, and what to do with it is said."""

import json
from pathlib import Path

import pytest

from monitor.cli import main
from monitor.farm import load


@pytest.fixture
def folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    """Return a starter farm's folder."""
    main(["init", str(tmp_path / "farm"), "--yes"])
    capsys.readouterr()
    return tmp_path / "farm"


def test_it_says_what_to_add_and_how_a_phone_trusts_it(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The two lines that it prints make the farm's pages encrypted."""
    assert main(["certificate", "--farm", str(folder), "--name", "barn.local"]) == 0
    said = capsys.readouterr().out
    lines = [line.strip() for line in said.splitlines() if line.startswith("  ")]
    added = "\n".join(line for line in lines if line.startswith(("certificate =", "key =")))
    file = folder / "farm.toml"
    text = file.read_text(encoding="utf-8").replace("[pages]\n", f"[pages]\n{added}\n")
    file.write_text(text, encoding="utf-8")
    assert load(folder, {}).web.certificate == folder / "secrets" / "pages.crt"
    assert "https://barn.local:8484/authority.crt" in said


def test_renewed_it_tells_no_trust_step(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The second time the authority is the first one's, so no phone is asked again."""
    assert main(["certificate", "--json", "--farm", str(folder)]) == 0
    first = json.loads(capsys.readouterr().out)
    assert main(["certificate", "--json", "--farm", str(folder)]) == 0
    second = json.loads(capsys.readouterr().out)
    assert (first["new_authority"], second["new_authority"]) == (True, False)
    assert first["fingerprint"] == second["fingerprint"]
    assert "localhost" in second["names"]
