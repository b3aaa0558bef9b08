"""``cormwatch run`` with a mirror whose server is away: intake never waits, nothing is missed."""

import json
import shutil
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from monitor.farm import FILES
from tests.system.brokers import Mosquitto, wait_until
from tests.system.daemons import Watched, cormwatch
from tests.system.mirrored import report_of
from tests.system.playing import BATCH, COLD_C, Player
from tests.system.series_servers import Influx

pytestmark = pytest.mark.system

Farms = Callable[..., Watched]


def _copied(farm: Watched, influx: Influx) -> None:
    """Wait until the server has as many readings as the farm's own file."""

    def all_there() -> bool:
        with farm.readings() as reader:
            kept = {each: len(reader.series(each, 0).at_ms) for each in reader.channels()}
        return sum(kept.values()) == influx.count("temperature_c") + influx.count("humidity_pct")

    wait_until(all_there, 40)


def _fails(farm: Watched) -> bool:
    return bool(farm.get("/health/ready")["mirror"].startswith("fails"))


def _export(folder: Path) -> str:
    done = cormwatch("export", "readings", "--farm", str(folder))
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_a_server_that_is_away_for_a_while_costs_no_reading(
    farms: Farms, mosquitto: Mosquitto, influx: Influx, tmp_path: Path
) -> None:
    """503, a killed server and a daemon begun anew: equal counts, no gap, and one history."""
    farm = farms(mosquitto.port)
    farm.program = ("-m", "tests.system.impatient_daemon")
    file = farm.folder / "farm.toml"
    table = f'[mirror]\nurl = "{influx.url}"\nbucket = "farms"\nsite = "brook"\n'
    file.write_text(file.read_text("utf-8").replace("# ---- Places", f"{table}\n# ---- Places", 1))
    added = farm.run("batch", "add", *BATCH, "--at", "10 h ago")
    assert added.returncode == 0, added.stderr
    farm.start()
    player = Player(farm, mosquitto.port, 600)
    player.play(*[COLD_C + at % 7 / 10 for at in range(150)])
    _copied(farm, influx)

    influx.close_front(503)
    began_s = time.monotonic()
    player.play(*[COLD_C + at % 5 / 10 for at in range(150)])  # judged while nothing is copied
    assert time.monotonic() - began_s < 15
    wait_until(lambda: _fails(farm), 30)
    farm.kill()
    farm.start()
    wait_until(lambda: _fails(farm), 20)
    player.play(*[COLD_C] * 50)

    influx.kill_database()
    influx.close_front(None)  # now it answers 502
    player.play(*[COLD_C + 0.2] * 150)
    influx.start_database()
    _copied(farm, influx)
    wait_until(lambda: farm.get("/health/ready")["mirror"] == "up to date", 20)
    player.play(*[COLD_C] * 50)
    _copied(farm, influx)
    farm.stop()

    told = json.loads(farm.run("mirror", "verify", "--json").stdout)
    assert (told["equal"], told["readings"], told["waiting"]) == (True, 2 * player.sent, 0)
    office = tmp_path / "office"
    (office / "data").mkdir(parents=True)
    for name in (*FILES, "data/ledger.db"):
        shutil.copy(farm.folder / name, office / name)
    assert cormwatch("mirror", "pull", "--farm", str(office)).returncode == 0
    assert _export(office) == _export(farm.folder)
    assert report_of(office, player.at_ms) == report_of(farm.folder, player.at_ms)
