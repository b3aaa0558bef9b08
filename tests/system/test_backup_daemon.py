"""``cormwatch run`` with ``[backup]``: a copy is made beside it, and put back elsewhere."""

from collections.abc import Callable
from pathlib import Path

import pytest

from monitor.store import read_copy
from tests.system.brokers import Mosquitto, wait_until
from tests.system.daemons import Watched, cormwatch
from tests.system.mirrored import report_of
from tests.system.playing import BATCH, COLD_C, Player

pytestmark = pytest.mark.system


def test_the_daemon_copies_what_it_watches_and_says_where_it_cannot(
    farms: Callable[..., Watched], mosquitto: Mosquitto, tmp_path: Path
) -> None:
    """A folder that is not there is told; there, the copy has every reading taken by then."""
    stick, farm = tmp_path / "stick", farms(mosquitto.port)
    farm.program = ("-m", "tests.system.impatient_daemon")
    file = farm.folder / "farm.toml"
    text = file.read_text("utf-8")
    file.write_text(text.replace("# ---- Places", f'[backup]\nfolder = "{stick}"\n\n# ----', 1))
    farm.run("batch", "add", *BATCH, "--at", "2 h ago")
    farm.start()
    wait_until(lambda: "is its disk in?" in str(farm.get("/health/ready")["troubles"]))
    player = Player(farm, mosquitto.port, 100)
    player.play(*[COLD_C] * 90)
    stick.mkdir()
    file.write_text(file.read_text("utf-8").replace("\n[backup]", "\n[backup]\nkeep = 2", 1))
    wait_until(lambda: list(stick.glob("*.zip")) != [], 30)
    wait_until(lambda: farm.get("/health/ready")["backup"].startswith("made: "))
    assert "copy" not in str(farm.get("/health/ready")["troubles"])
    assert farm.stop() < 5
    (copy,) = stick.iterdir()
    assert read_copy(copy).rows["readings.db"]["readings"] == 180
    other = tmp_path / "other"
    assert cormwatch("restore", str(copy), "--farm", str(other)).returncode == 0
    assert report_of(other, player.at_ms) == report_of(farm.folder, player.at_ms)
