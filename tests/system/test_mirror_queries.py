"""The ready-made queries, run as they stand on the page, beside our own files."""

import json
import re
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any
from urllib.parse import urlencode
from urllib.request import urlopen

import numpy as np
import pytest

from monitor.mirror.naming import FIELDS, FLAGS
from monitor.model import Flag, Quantity
from monitor.store import Series
from tests.system.brokers import wait_until
from tests.system.mirrored import AIR, DAMP, Copied
from tests.system.series_servers import Influx, Victoria

pytestmark = pytest.mark.system

PAGE = Path(__file__).resolve().parents[2] / "config" / "mirror-queries.md"
DAY_MS = 86_400_000
MINUTES = range(1_300, 0, -1)
SILENCE = range(700, 650, -1)


def queries(language: str) -> list[str]:
    """Return the page's queries in one language, in their order."""
    found = re.findall(
        rf"^```{language}\n(.+?)\n```$", PAGE.read_text("utf-8"), re.MULTILINE | re.DOTALL
    )
    assert found
    return found


@pytest.fixture
def kept(tmp_path: Path) -> Iterator[tuple[Copied, Series]]:
    """Yield what copies, to nowhere yet, and the air of 21 hours with a silence of 51 minutes."""
    copied = Copied(tmp_path / "farm", "http://127.0.0.1:1", batch=5_000)
    heard = [each for each in MINUTES if each not in SILENCE]
    copied.keep(AIR, heard, lambda minute: 2.0 + minute % 97 / 20)
    copied.keep(DAMP, MINUTES)
    with closing(copied.reader()) as reader:
        yield copied, reader.series(AIR, 0)
    copied.close()


def _answers(influx: Influx) -> list[list[dict[str, Any]]]:
    return [influx.ask(each) for each in queries("influxql")]


def _column(series: dict[str, Any], name: str) -> list[Any]:
    at = series["columns"].index(name)
    return [row[at] for row in series["values"] if row[at] is not None]


def test_every_influxql_query_tells_what_our_own_file_does(
    kept: tuple[Copied, Series], influx: Influx
) -> None:
    """Last, extremes, minutes known and warm, silences and flags: the same figures."""
    copied, air = kept
    copied.url = influx.url
    copied.restart()
    copied.until_sent()
    last, steps, known, warm, silent, suspect, sites = _answers(influx)
    (one,) = last
    assert one["tags"] == {"place": "walk-in-cooler", "sensor": "cooler-door-side"}
    assert _column(one, "last") == [air.raw[-1]]
    assert min(_column(steps[0], "min")) == air.raw.min()
    assert max(_column(steps[0], "max")) == air.raw.max()
    assert len(_column(steps[0], "mean")) == len(np.unique(air.at_ms // 600_000))
    assert sum(_column(known[0], "count")) == len(air.raw)
    assert sum(_column(warm[0], "count")) == (air.raw > 5).sum()
    assert _column(silent[0], "max") == [np.diff(air.at_ms).max() // 1000] == [51 * 60]
    bad = (air.flags & int(Flag.SUSPECT)) != 0
    assert _column(suspect[0], "temperature_c") == air.raw[bad].tolist()
    assert bad.any()
    assert [each["tags"]["site"] for each in sites] == ["brook"]


def test_every_promql_query_tells_what_our_own_file_does(
    kept: tuple[Copied, Series], victoria: Victoria
) -> None:
    """Asked as of the newest reading, whose day has all of it."""
    copied, air = kept
    copied.url = victoria.url
    copied.restart()
    copied.until_sent()
    wait_until(
        lambda: len(victoria.points("cormwatch_temperature_c", site="brook")) == len(air.raw)
    )

    def ask(text: str) -> float:
        words = urlencode({"query": text, "time": air.at_ms[-1] / 1000, "nocache": 1})
        with urlopen(f"{victoria.url}/api/v1/query?{words}", timeout=20) as answer:  # noqa: S310
            (found,) = json.loads(answer.read())["data"]["result"]
        return float(found["value"][1])

    raw = air.raw
    expected = [raw[-1], raw.min(), raw.max(), len(raw), (raw > 5).mean(), raw.max()]
    assert [ask(each) for each in queries("promql")] == pytest.approx(expected, rel=1e-12)


def test_the_page_names_every_field_and_flag() -> None:
    """What is written to the server is described to whoever reads it there."""
    text = PAGE.read_text("utf-8")
    for quantity in Quantity:
        assert f"`{FIELDS[quantity]}`" in text
        assert f"`{FLAGS[quantity].removesuffix('_flags')}`" in text
    for flag in Flag:
        assert not flag or re.search(rf"\b{int(flag)} [a-z]", text), flag
