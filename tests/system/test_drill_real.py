"""A drill proves the monitor that runs: its outbox, its courier, its addresses."""

from collections.abc import Callable
from typing import Any

import pytest
from pydantic import SecretStr

from monitor.model import Notice, NoticeKind, NoticeStatus
from tests.system.brokers import Mosquitto, free_port
from tests.system.daemons import Watched

pytestmark = pytest.mark.system

Sink = tuple[list[dict[str, Any]], SecretStr]
Farms = Callable[..., Watched]


def _drills(farm: Watched) -> list[Notice]:
    with farm.ledger() as ledger:
        return [each for each in ledger.notices() if each.kind is NoticeKind.DRILL]


def test_a_drill_is_sent_by_the_running_monitor(
    farms: Farms, mosquitto: Mosquitto, sink: Sink
) -> None:
    """Beside a monitor the test goes through its outbox and its courier, and says so."""
    farm = farms(mosquitto.port, sink[1]).start()
    done = farm.run("alarm", "drill", "--by", "Wren")
    assert (done.returncode, done.stdout) == (0, "Robin, address 1: sent\n"), done.stderr
    assert [each["title"].startswith("TEST: ") for each in sink[0]] == [True]
    assert [each.status for each in _drills(farm)] == [NoticeStatus.SENT]


def test_a_drill_to_an_address_the_monitor_does_not_know_fails(
    farms: Farms, mosquitto: Mosquitto, sink: Sink
) -> None:
    """A monitor that was started with fewer addresses refuses the others, and it is told."""
    farm = farms(mosquitto.port, sink[1]).start()
    people = farm.folder / "people.toml"
    good = people.read_text(encoding="utf-8")
    more = good.replace('"env:ROBIN_MAIL"', '"env:ROBIN_MAIL", "env:ROBIN_MORE"')
    people.write_text(more, encoding="utf-8")
    farm.environ["ROBIN_MORE"] = sink[1].get_secret_value()  # the running monitor has it not
    done = farm.run("alarm", "drill", "--by", "Wren")
    assert done.returncode == 2
    assert "Robin, address 1: sent\n" in done.stdout
    assert "Robin, address 2: NOT SENT: no address matched" in done.stdout
    assert "1 of 2 addresses were not reached by the running monitor" in done.stderr


def test_a_drill_without_a_monitor_is_sent_by_the_command(farms: Farms, sink: Sink) -> None:
    """Where no monitor runs the command sends the test itself, and says that."""
    done = farms(free_port(), sink[1]).run("alarm", "drill", "--by", "Wren")
    assert done.returncode == 0, done.stderr
    assert "The monitor is not running: sent by this command." in done.stdout
    assert len(sink[0]) == 1
