"""How far a copy elsewhere has come, in a file of its own."""

from pathlib import Path

import pytest

from monitor.store import Advance, MirrorFile, RefusedReading, mirror_file
from tests.store.making import AIR, DAMP, T0_MS


def test_a_step_is_whole_and_outlives_a_restart(tmp_path: Path) -> None:
    """Cursors, late spans, totals and refusals of one step are there after opening anew."""
    file = MirrorFile.open(tmp_path / "mirror.db")
    file.begin("token", "office", 4)
    epoch = file.position().epoch
    bad = RefusedReading(AIR, T0_MS, 4.5, "field type conflict", T0_MS + 9)
    assert file.advance(epoch, Advance({AIR: T0_MS, DAMP: 7}, 6, 12, 30, [bad]), T0_MS + 9)
    assert file.advance(epoch, Advance({AIR: T0_MS + 5}, 7, 0, 1), T0_MS + 10)
    file.close()
    again = MirrorFile.open(tmp_path / "mirror.db")
    position = again.position()
    assert (position.token, position.target) == ("token", "office")
    assert (position.late, position.late_at_ms) == (7, 0)
    assert position.cursors == {AIR: T0_MS + 5, DAMP: 7}
    assert again.outcome() == (31, 1, T0_MS + 10, None, "")
    assert again.refused() == [bad]
    assert (again.path.stat().st_mode & 0o777) == 0o600
    again.close()


def test_a_step_of_before_a_setting_back_moves_nothing(tmp_path: Path) -> None:
    """Whoever sets it back is not overruled by a step that was under way."""
    file = MirrorFile.open(tmp_path / "mirror.db")
    file.begin("token", "office", 0, {AIR: 100, DAMP: 20})
    epoch = file.position().epoch
    file.set_back(50)
    assert not file.advance(epoch, Advance({AIR: 200}, 3, 0, 9), T0_MS)
    position = file.position()
    assert (position.cursors, position.late) == ({AIR: 49, DAMP: 20}, 0)
    assert file.outcome().sent == 0
    file.close()


def test_a_failure_keeps_its_beginning(tmp_path: Path) -> None:
    """Since when it fails is the first failure's time, until one success."""
    file = MirrorFile.open(tmp_path / "mirror.db")
    file.fail(T0_MS, "no answer")
    file.fail(T0_MS + 5, "503")
    assert file.outcome()[3:] == (T0_MS, "503")
    file.succeed()
    assert file.outcome()[3:] == (None, "")
    file.close()


def test_refused_readings_are_bounded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The newest stay; the total goes on counting."""
    monkeypatch.setattr(mirror_file, "REFUSED_KEPT", 2)
    file = MirrorFile.open(tmp_path / "mirror.db")
    for at_ms in range(5):
        bad = RefusedReading(AIR, at_ms, 1.0, "x" * 5_000, at_ms)
        file.advance(0, Advance({}, 0, 0, 0, [bad]), at_ms)
    assert [each.at_ms for each in file.refused()] == [4, 3]
    assert len(file.refused()[0].reason) == 400
    assert file.outcome().refused == 5
    file.close()
