"""``cormwatch service``: the unit, the farm it takes along, and what it refuses."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from monitor.cli import main
from monitor.farm import load
from monitor.store import lock

Said = pytest.CaptureFixture[str]


@pytest.fixture
def farm(tmp_path: Path) -> Path:
    """Return a starter farm's folder."""
    assert main(["init", str(tmp_path / "farm"), "--yes"]) == 0
    return tmp_path / "farm"


def _analyze(*words: str) -> str:
    """Return what systemd's own judge says of a unit."""
    program = shutil.which("systemd-analyze")
    if program is None and os.environ.get("CI"):
        pytest.fail("systemd-analyze is missing: install systemd")
    if program is None:
        pytest.skip("systemd-analyze is not installed")
    told = subprocess.run([program, *words], capture_output=True, text=True, check=False)
    return told.stdout + told.stderr


def test_the_unit_runs_this_program_on_the_farm(tmp_path: Path, farm: Path) -> None:
    """The unit starts the program that wrote it; the farm is taken along, and loads there."""
    system = tmp_path / "system"
    assert main(["service", "--farm", str(farm), "--root", str(system)]) == 0
    unit = (system / "etc/systemd/system/cormwatch.service").read_text(encoding="utf-8")
    program = Path(sys.executable).parent / "cormwatch"
    assert f"ExecStart={program} run --farm /var/lib/cormwatch\n" in unit
    taken = system / "var/lib/cormwatch"
    assert load(taken).digest == load(farm).digest
    assert taken.stat().st_mode & 0o777 == 0o700


def test_systemd_takes_the_unit(tmp_path: Path, farm: Path) -> None:
    """Systemd's own check finds nothing wrong, and its security score is OK (under 2)."""
    system = tmp_path / "system"
    assert main(["service", "--farm", str(farm), "--root", str(system)]) == 0
    unit = str(system / "etc/systemd/system/cormwatch.service")
    assert [line for line in _analyze("verify", unit).splitlines() if "cormwatch" in line] == []
    score = re.search(
        r"exposure level for cormwatch.service: ([\d.]+)",
        _analyze("security", "--offline=true", unit),
    )
    assert score is not None
    assert float(score[1]) < 2.0


def test_a_farm_that_is_there_is_never_written_over(
    tmp_path: Path, farm: Path, capsys: Said
) -> None:
    """A second farm is refused; without one, an upgrade writes the unit and leaves the farm."""
    system = tmp_path / "system"
    assert main(["service", "--farm", str(farm), "--root", str(system)]) == 0
    kept = system / "var/lib/cormwatch/farm.toml"
    kept.write_text(kept.read_text(encoding="utf-8") + "# mine\n", encoding="utf-8")
    assert main(["service", "--farm", str(farm), "--root", str(system)]) == 2
    assert "holds a farm already" in capsys.readouterr().err
    assert main(["service", "--root", str(system)]) == 0
    assert kept.read_text(encoding="utf-8").endswith("# mine\n")


def test_a_farm_that_is_watched_is_not_copied(tmp_path: Path, farm: Path, capsys: Said) -> None:
    """Files that a monitor is writing would be torn: it is to be stopped first."""
    (farm / "data").mkdir(exist_ok=True)
    with lock(farm / "data" / "cormwatch.lock"):
        assert main(["service", "--farm", str(farm), "--root", str(tmp_path / "system")]) == 2
    assert "stop it first" in capsys.readouterr().err
    assert not (tmp_path / "system" / "var").exists()


def test_no_farm_or_a_broken_one_is_refused(tmp_path: Path, farm: Path, capsys: Said) -> None:
    """Nothing is written where there is nothing to watch, or it would not load."""
    system = tmp_path / "system"
    assert main(["service", "--root", str(system)]) == 2
    assert "holds no farm" in capsys.readouterr().err
    (farm / "farm.toml").write_text("nonsense", encoding="utf-8")
    assert main(["service", "--farm", str(farm), "--root", str(system)]) == 2
    assert not system.exists()
