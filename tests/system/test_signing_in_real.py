"""A sensor on the broker inside, by what the running monitor says of it."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.system.brokers import free_port
from tests.system.daemons import Watched
from tests.system.playing import COLD_C, Player

pytestmark = pytest.mark.system

Farms = Callable[..., Watched]


def test_a_sensor_signs_in_as_run_says(farms: Farms) -> None:
    """With the user and password file that ``run`` prints, a sensor reaches the list."""
    port = free_port()
    farm = farms(port)
    file = farm.folder / "farm.toml"
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace("embedded = false", "embedded = true"), encoding="utf-8")
    farm.start()
    line = farm.process.stdout.readline() if farm.process.stdout else ""
    user, _, rest = line.removeprefix("Sensors sign in as user ").partition(
        " with the password in "
    )
    password, _, where = rest.partition(" (")
    assert where == f"127.0.0.1:{port}, MQTT 3.1.1)\n"
    player = Player(farm, port, 5)
    player.signed_in = (user, Path(password).read_text(encoding="utf-8").strip())
    player.play(COLD_C)
    listed = json.loads(farm.run("sensor", "list", "--json").stdout)
    heard = {each["id"]: each["last_heard_at"] for each in listed}
    assert heard["cooler-door-side"] is not None
