"""Figures for collectors, read by the reference parser of the form."""

from collections.abc import Iterator

import pytest
from prometheus_client import Metric
from prometheus_client.openmetrics.parser import text_string_to_metric_families

from monitor.web.metrics import Family, openmetrics
from tests.web.desk import HOUR_MS, NOW_MS, SmallDesk
from tests.web.visiting import Visitor


def _parsed(text: str) -> dict[str, Metric]:
    return {each.name: each for each in text_string_to_metric_families(text)}  # type: ignore[no-untyped-call]


def _value(metric: Metric, **labels: str) -> list[float]:
    wanted = labels.items()
    return [each.value for each in metric.samples if wanted <= each.labels.items()]


@pytest.fixture
def late(desk: SmallDesk) -> Iterator[SmallDesk]:
    """Yield the desk two hours after the last reading."""
    desk.now = NOW_MS + 2 * HOUR_MS
    yield desk
    desk.now = NOW_MS


@pytest.mark.outside
def test_the_reference_parser_reads_it(visitor: Visitor) -> None:
    """prometheus_client's strict OpenMetrics parser takes the text, with base units."""
    answer = visitor.get("/metrics")
    assert answer.headers["content-type"].startswith("application/openmetrics-text; version=1.0.0")
    assert answer.text.endswith("# EOF\n")
    found = _parsed(answer.text)
    assert _value(found["cormwatch_temperature_celsius"], sensor="soak-water") == [17.5]
    assert _value(found["cormwatch_humidity_ratio"], place="walk-in-cooler") == [0.92]
    assert found["cormwatch_messages"].type == "counter"
    assert _value(found["cormwatch_open_alarms"], priority="high") == [1.0]
    states = found["cormwatch_place_state"]
    assert _value(states, place="walk-in-cooler", cormwatch_place_state="harm") == [1.0]
    assert sum(_value(states, place="walk-in-cooler")) == 1.0


def test_a_stale_value_is_dropped_and_its_time_kept(late: SmallDesk, visitor: Visitor) -> None:
    """Two hours of silence take the value away, not the time it was last heard."""
    found = _parsed(visitor.get("/metrics").text)
    assert late.now_ms() > NOW_MS
    assert "cormwatch_temperature_celsius" not in found
    heard = found["cormwatch_sensor_last_heard_timestamp_seconds"]
    assert _value(heard, sensor="soak-water") == [NOW_MS / 1000]


def test_labels_are_escaped() -> None:
    """A backslash, a quote and a line break in a name come through the parser unharmed."""
    name = 'a "b" \\ c\nd'
    text = openmetrics([Family("x", "gauge", "", 'says "\\"', (({"place": name}, 1.0),))])
    metric = _parsed(text)["cormwatch_x"]
    assert metric.samples[0].labels == {"place": name}
