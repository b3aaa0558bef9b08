"""Real parts for the system tests."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.system.brokers import Mosquitto


@pytest.fixture
def mosquitto(tmp_path: Path) -> Iterator[Mosquitto]:
    """Yield a running mosquitto on a free port of the loopback."""
    folder = tmp_path / "mosquitto"
    folder.mkdir()
    broker = Mosquitto(folder).start()
    yield broker
    broker.stop()
