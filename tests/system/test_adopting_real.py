"""A topic taken on the page of a running monitor, with a real broker between."""

from collections.abc import Callable
from http.client import HTTPResponse
from typing import Any
from urllib.parse import urlencode
from urllib.request import Request, urlopen

import pytest

from tests.system.brokers import Mosquitto, wait_until
from tests.system.daemons import Watched
from tests.system.test_sensor_find_real import speaking
from tests.web.settings.forms import forms

pytestmark = pytest.mark.system
TOPIC = "shed/dry-store/shelf"


def _page(farm: Watched, path: str, sent: dict[str, Any] | None = None) -> str:
    data = urlencode(sent, doseq=True).encode() if sent else None
    answer: HTTPResponse
    with urlopen(Request(farm.address + path, data), timeout=20) as answer:  # noqa: S310 - our own address
        return answer.read().decode()


def test_what_is_taken_on_the_page_stands_on_its_place(
    farms: Callable[..., Watched], mosquitto: Mosquitto
) -> None:
    """One press, and the next page knows the sensor; its readings stand on the place's page."""
    farm = farms(mosquitto.port).start()
    with speaking(mosquitto.port, {TOPIC: '{"t": 52.3, "h": 61}'}):
        wait_until(lambda: TOPIC in _page(farm, "/sensors"), 20)
        (fields,) = forms(_page(farm, f"/topics?topic={TOPIC}"), "/topics")
        page = _page(farm, "/topics", fields | {"by": ["Robin"], "every": ["10 s"]})
        assert "Saved." in page
        assert TOPIC in page
        wait_until(lambda: "52.3" in _page(farm, "/places/dry-store"), 20)
    with farm.ledger() as ledger:
        assert [each.by for each in ledger.configurations()][1:] == [
            "Robin: sensor Dry store shelf added"
        ]
