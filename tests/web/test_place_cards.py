"""The cards of the first page: what a place is shown by, and in which order."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from monitor.batches.counts import Count
from monitor.batches.rules import Start, add
from monitor.model import Channel, Quantity
from monitor.web.batch_lines import lot
from monitor.web.look import Look
from monitor.web.place_cards import Card, cards
from monitor.web.trails import Trails
from tests.web.desk import Course, SmallDesk, readings, starter_farm, steady, writing

CALM = {
    Channel("cooler-door-side", Quantity.TEMPERATURE): steady(3.3),
    Channel("cooler-back", Quantity.TEMPERATURE): steady(3.3),
    Channel("cooler-door-side", Quantity.HUMIDITY): steady(
        80.0, 0.2
    ),  # below the starter farm's good range, above its harm
    Channel("tunnel-1-air", Quantity.TEMPERATURE): steady(10.0),
    Channel("tunnel-1-air", Quantity.HUMIDITY): steady(65.0),
}


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[SmallDesk]:
    """Yield the starter farm's desk, to which nothing has spoken."""
    desk = SmallDesk(starter_farm(tmp_path / "farm"))
    yield desk
    desk.close()


def _cards(desk: SmallDesk, courses: dict[Channel, Course]) -> list[Card]:
    for channel, course in courses.items():
        desk.write(readings(channel, course, hours=6.0))
    desk.judge()
    return cards(Look.at(desk), Trails())


def test_a_drift_of_humidity_neither_heads_a_card_nor_moves_it(empty: SmallDesk) -> None:
    """The cooler stands where the farm has it, by its air; the drift is said in words."""
    shown = _cards(empty, CALM)
    assert [each.id for each in shown] == list(empty.farm().places)
    cooler = next(each for each in shown if each.id == "walk-in-cooler")
    assert cooler.standing.word == "a little dry"
    assert cooler.quantity == "Humidity"
    assert cooler.value.endswith("°F")
    assert any(each.endswith("%, a little dry") for each in cooler.beside)


def test_harm_stands_first_and_then_a_drift_of_the_air(empty: SmallDesk) -> None:
    """After harm comes warmth that drifts, then the farm's own order."""
    cold = {
        Channel("cooler-door-side", Quantity.TEMPERATURE): steady(5.0, 0.1),
        Channel("tunnel-2-air", Quantity.TEMPERATURE): steady(-9.0, 0.1),
    }
    shown = [each.id for each in _cards(empty, cold)]
    rest = [each for each in empty.farm().places if each not in ("tunnel-2", "walk-in-cooler")]
    assert shown == ["tunnel-2", "walk-in-cooler", *rest]


def test_the_air_heads_a_card_though_humidity_drifted_first(empty: SmallDesk) -> None:
    """A cooler an hour over 40 °F and dry for longer is a little warm, for that hour."""
    warmed = {
        Channel("cooler-door-side", Quantity.TEMPERATURE): _step(3.3, 4.78),  # 40.6 °F
        Channel("cooler-back", Quantity.TEMPERATURE): steady(3.3),
    }
    start = Start(
        crop="ranunculus", cultivar="Copper Veil", place="walk-in-cooler", stage="cut_stems",
        unit="stems", count=Count(40),
    )  # fmt: skip
    empty.record(add(start, writing(1.0)))
    cooler = next(each for each in _cards(empty, CALM | warmed) if each.id == "walk-in-cooler")
    assert (cooler.standing.word, cooler.quantity) == ("a little warm", "Air")
    assert cooler.since.startswith(("for 1 h", "for 59 min"))
    assert any(each.endswith("%, a little dry") for each in cooler.beside)
    assert lot(Look.at(empty), empty.book().batches[1]).standing.word == "a little warm"


def _step(before: float, after: float) -> Course:
    return lambda hours: np.where(hours < -1.0, before, after)
