"""One daemon a farm, and room kept for the ledger."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from monitor.errors import BusyError
from monitor.store import Reserve, lock, lock_farm

_HOLD = """
import sys
from pathlib import Path
from monitor.store import lock
with lock(Path(sys.argv[1])):
    print("held", flush=True)
    sys.stdin.read()
"""


def test_a_second_daemon_is_refused(tmp_path: Path) -> None:
    """While one holds the lock the other is told who; it is free again after."""
    path = tmp_path / "data" / "lock"
    message = f"another cormwatch run is watching this farm .process {os.getpid()}"
    with lock(path), pytest.raises(BusyError, match=message), lock(path):
        pass
    with lock(path):
        assert path.read_text() == f"{os.getpid()}\n"


def test_the_lock_ends_with_its_process(tmp_path: Path) -> None:
    """A killed daemon leaves no lock behind."""
    path = tmp_path / "lock"
    process = subprocess.Popen(
        [sys.executable, "-c", _HOLD, str(path)], cwd=Path(__file__).parents[2],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    with process:
        if process.stdout is not None:
            assert process.stdout.readline() == "held\n"
        with pytest.raises(BusyError, match=str(process.pid)), lock(path):
            pass
        process.kill()
    with lock(path):
        assert path.exists()


def test_a_farm_is_held_though_its_lock_file_is_removed(tmp_path: Path) -> None:
    """Whoever tidies up lets no second daemon in; the folder is free again after."""
    with lock_farm(tmp_path):
        with pytest.raises(BusyError, match=str(os.getpid())), lock_farm(tmp_path):
            pass
        (tmp_path / "cormwatch.lock").unlink()
        with pytest.raises(BusyError, match="lock file was removed"), lock_farm(tmp_path):
            pass
        with lock(tmp_path / "mirror.lock"):
            pass
    with lock_farm(tmp_path):
        assert (tmp_path / "cormwatch.lock").exists()


def test_the_reserve_holds_real_room_and_lets_it_go(tmp_path: Path) -> None:
    """Its blocks are really taken, and free once it is released."""
    reserve = Reserve(tmp_path / "data" / "reserve", size_bytes=200_000)
    assert not reserve.held
    assert reserve.make()
    assert reserve.make()
    assert reserve.path.stat().st_blocks * 512 >= 200_000
    assert reserve.release()
    assert not reserve.release()
    assert not reserve.path.exists()


def test_no_reserve_is_made_on_a_disk_that_is_nearly_full(tmp_path: Path) -> None:
    """The reserve never takes the last room itself."""
    reserve = Reserve(tmp_path / "reserve", size_bytes=2**50)
    assert not reserve.make()
    assert not reserve.path.exists()
