"""``cormwatch alarm limits``: the limits that were changed."""

import json
from pathlib import Path

import pytest

from monitor.cli import main
from monitor.farm import load
from monitor.store import Ledger
from tests.cli.small_farm import small_farm


def _accepted(folder: Path, at_ms: int) -> None:
    farm = load(folder)
    ledger = Ledger.open(folder / "data" / "ledger.db")
    ledger.accept_configuration(farm.texts, farm.digest, at_ms, "ida")
    ledger.close()


def test_a_change_is_told_in_the_farms_units(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What was changed is told from → to, in °F for a farm that has them; JSON in [°C]."""
    small_farm(tmp_path)
    (tmp_path / "data").mkdir()
    _accepted(tmp_path, 1_700_000_000_000)
    crops = tmp_path / "crops.toml"
    crops.write_text(crops.read_text().replace('high = "40 F"', 'high = "41 F"'))
    _accepted(tmp_path, 1_700_000_600_000)
    assert main(["alarm", "limits", "--farm", str(tmp_path)]) == 0
    assert "temperature ideal to, from 40.0 °F to 41.0 °F (ida)" in capsys.readouterr().out
    assert main(["alarm", "limits", "--json", "--farm", str(tmp_path)]) == 0
    told = json.loads(capsys.readouterr().out)
    assert any(each["to"] == pytest.approx(5.0) and each["unit"] == "Cel" for each in told)
