"""The next hour, walked through measured series of which nothing was fitted beforehand.

The interval is meant to hold eight of ten; what is asked is that it does so within ten
points in each series, and that its middle is together no worse than the newest value.
"""

from datetime import UTC, datetime
from functools import cache
from typing import Final, NamedTuple

import numpy as np
import pytest

from monitor.science.heading import SHARE, heading
from monitor.science.series import Samples
from tests.outside.checking import column, rows
from tests.shared_files import shared

HOUR_MS: Final = 3_600_000
DAY_MS: Final = 24 * HOUR_MS
SERIES: Final = {
    # file: its time, its value; licences and sources stand beside the files
    "nl2022_greenhouse_5min": ("Date", "Tair"),
    "nl2022_outdoor_5min": ("Date", "Tout"),
    "tunnel_g1_ref_airtemp": ("local_time", "T_C"),
    "tunnel_g1_trh_1": ("local_time", "RH_pct"),
    "nab_machine_temperature_system_failure": ("timestamp", "value"),
}
pytestmark = pytest.mark.outside
for _name in SERIES:
    shared(f"data/{_name}.csv.gz")


class Walked(NamedTuple):
    """What came, and what was told of it an hour before."""

    inside: float
    error: float
    standing_still: float
    told: int


def _at_ms(text: str) -> int:
    form = "%m/%d/%Y %H:%M" if "/" in text else None
    when = datetime.strptime(text, form) if form else datetime.fromisoformat(text)  # noqa: DTZ007
    return round(when.replace(tzinfo=UTC).timestamp() * 1000)


@cache
def _walked(name: str) -> Walked:
    """Ask every seven hours, from the day before alone, where it will be in an hour."""
    when, what = SERIES[name]
    table = [row for row in rows(f"data/{name}.csv.gz") if row[when]]
    at_ms, value = np.array([_at_ms(row[when]) for row in table]), column(table, what)
    order = np.unique(at_ms, return_index=True)[1]
    order = order[np.isfinite(value[order]) & (value[order] > -30.0) & (value[order] < 130.0)]
    at_ms, value = at_ms[order], value[order]
    told = []
    for now_ms in range(int(at_ms[0]) + DAY_MS, int(at_ms[-1]) - HOUR_MS, 7 * HOUR_MS):
        first, last = np.searchsorted(at_ms, (now_ms - DAY_MS, now_ms + 1))
        then = int(np.searchsorted(at_ms, at_ms[last - 1] + HOUR_MS))
        found = heading(Samples(at_ms[first:last], value[first:last], 2400.0))
        if found is not None and at_ms[then] - at_ms[last - 1] < 1.25 * HOUR_MS:
            came = value[then]
            inside = found.low <= came <= found.high
            told.append((inside, abs(came - found.middle), abs(came - value[last - 1])))
    inside, error, still = np.mean(np.array(told, dtype=np.float64), axis=0).tolist()
    return Walked(inside, error, still, len(told))


@pytest.mark.parametrize("name", SERIES)
def test_it_holds_what_comes_as_often_as_it_says(name: str) -> None:
    """Eight of ten, within ten points, judged at a hundred moments or more."""
    walked = _walked(name)
    assert walked.told > 100
    assert walked.inside == pytest.approx(SHARE, abs=0.1)


def test_it_is_no_worse_than_standing_still() -> None:
    """Over all series the middle errs less, on average, than the newest value would."""
    ratios = [_walked(name).error / _walked(name).standing_still for name in SERIES]
    assert np.exp(np.log(ratios).mean()) < 1.0
