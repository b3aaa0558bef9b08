"""Real parts for the system tests."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser
from pydantic import SecretStr

from tests.system.brokers import Mosquitto
from tests.system.browsing import Serving, browser
from tests.system.daemons import Watched, new_farm
from tests.system.series_servers import Influx, Victoria
from tests.system.sinks import Mailbox, http_sink, mail_server, mute_server
from tests.web.desk import SmallDesk, furnished


@pytest.fixture
def mosquitto(tmp_path: Path) -> Iterator[Mosquitto]:
    """Yield a running mosquitto on a free port of the loopback."""
    folder = tmp_path / "mosquitto"
    folder.mkdir()
    broker = Mosquitto(folder).start()
    yield broker
    broker.stop()


@pytest.fixture
def mail() -> Iterator[tuple[Mailbox, SecretStr]]:
    """Run a mail server; yield its mailbox and an address there."""
    with mail_server() as running:
        yield running


@pytest.fixture
def sink() -> Iterator[tuple[list[dict[str, Any]], SecretStr]]:
    """Run an HTTP service; yield what is posted to it, and its address."""
    with http_sink() as running:
        yield running


@pytest.fixture
def mute() -> Iterator[SecretStr]:
    """Yield the address of a mail server that takes connections and never greets."""
    with mute_server() as address:
        yield address


@pytest.fixture
def farms(tmp_path: Path) -> Iterator[Callable[..., Watched]]:
    """Yield what makes starter farms for a broker's port; no daemon outlives the test."""
    made: list[Watched] = []

    def make(port: int, *addresses: SecretStr) -> Watched:
        made.append(new_farm(tmp_path / f"farm-{len(made) + 1}", port, *addresses))
        return made[-1]

    yield make
    for each in made:
        each.kill()


@pytest.fixture
def influx(tmp_path: Path) -> Iterator[Influx]:
    """Yield a running InfluxDB 1.6 behind nginx, with an empty database."""
    server = Influx(tmp_path)
    try:
        yield server.start()
    finally:
        server.stop()


@pytest.fixture
def victoria(tmp_path: Path) -> Iterator[Victoria]:
    """Yield a running victoria-metrics."""
    server = Victoria(tmp_path)
    try:
        yield server.start()
    finally:
        server.stop()


@pytest.fixture(scope="module")
def chrome() -> Iterator[Browser]:
    """Yield a browser."""
    with browser() as opened:
        yield opened


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[SmallDesk]:
    """Yield a desk with four batches and an alarm that nobody has seen."""
    made = furnished(tmp_path / "farm")
    yield made
    made.close()


@pytest.fixture
def serving(desk: SmallDesk) -> Iterator[Serving]:
    """Yield the desk's pages, served."""
    served = Serving(desk).start()
    yield served
    served.stop()
