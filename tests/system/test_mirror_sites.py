"""Several farms into one server: each site is told apart, compared and pulled by itself."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from monitor.cli import main
from tests.system.brokers import Mosquitto, wait_until
from tests.system.daemons import Watched
from tests.system.playing import COLD_C, Player
from tests.system.series_servers import Influx

pytestmark = pytest.mark.system

SITES = ("brook", "hill", "mill")


def _site(farm: Watched, influx: Influx, name: str) -> Watched:
    """Let a farm copy its readings under a name."""
    farm.program = ("-m", "tests.system.impatient_daemon")
    file = farm.folder / "farm.toml"
    table = f'[mirror]\nurl = "{influx.url}"\nbucket = "farms"\nsite = "{name}"\n\n# ----'
    file.write_text(file.read_text("utf-8").replace("# ---- Places", table, 1), "utf-8")
    return farm


def _said(capsys: pytest.CaptureFixture[str], folder: Path, *words: str) -> str:
    capsys.readouterr()
    assert main([*words, "--farm", str(folder)]) == 0
    return capsys.readouterr().out


def test_three_daemons_copy_into_one_server_and_each_is_compared_by_itself(
    farms: Callable[..., Watched],
    mosquitto: Mosquitto,
    influx: Influx,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """The same sensors at the same times under three sites: none hides or lends a reading."""
    places = tmp_path.joinpath
    brokers = [mosquitto]
    for name in SITES[1:]:
        places(name).mkdir()
        brokers.append(Mosquitto(places(name)).start())
    try:
        watched = [
            _site(farms(broker.port), influx, name)
            for broker, name in zip(brokers, SITES, strict=True)
        ]
        for number, (farm, broker) in enumerate(zip(watched, brokers, strict=True)):
            farm.start()
            player = Player(farm, broker.port, 200)
            player.play(*[COLD_C + number / 10 + at % 7 / 100 for at in range(100 + 10 * number)])

        def counts() -> dict[str, int]:
            found = influx.ask('SELECT count("temperature_c") FROM cormwatch GROUP BY "site"')
            return {each["tags"]["site"]: each["values"][0][1] for each in found}

        wait_until(lambda: counts() == {"brook": 100, "hill": 110, "mill": 120}, 40)
        for number, farm in enumerate(watched):
            assert farm.stop() < 5
            told = json.loads(_said(capsys, farm.folder, "mirror", "verify", "--json"))
            assert (told["equal"], told["readings"]) == (True, 2 * (100 + 10 * number))
    finally:
        for broker in brokers[1:]:
            broker.stop()
    office = tmp_path / "office"
    office.mkdir()
    for name in ("farm.toml", "crops.toml", "people.toml"):
        (office / name).write_bytes((watched[0].folder / name).read_bytes())
    _said(capsys, office, "mirror", "pull", "--site", "mill")
    exports = [_said(capsys, each, "export", "readings") for each in (office, watched[2].folder)]
    assert exports[0] == exports[1]
    assert exports[0].count("\n") == 1 + 2 * 120
