"""``cormwatch mirror`` against a real InfluxDB: filled, compared, and pulled elsewhere."""

import json
import math
import shutil
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from monitor.batches.counts import Count
from monitor.batches.rules import Start, Writing, add
from monitor.cli import main
from monitor.clock import SystemClock
from monitor.daemon.thinning import TOLERANCE, Thinning
from monitor.farm import FILES, load
from monitor.model import Channel, Flag, Quantity, Reading
from monitor.store import Commit, Ledger, MirrorFile, ReadingReader, ReadingStore
from tests.daemon.made import HandClock
from tests.farm.folders import new_folder
from tests.system.mirrored import report_of
from tests.system.series_servers import Influx

pytestmark = pytest.mark.system

DAY_MS = 86_400_000
Run = Callable[..., tuple[int, str, str]]
SHELF = [Channel("sprouting-shelf", each) for each in (Quantity.TEMPERATURE, Quantity.HUMIDITY)]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """Return a runner of ``mirror`` words on a farm's folder."""

    def run(folder: Path, *words: str) -> tuple[int, str, str]:
        code = main(["mirror", *words, "--farm", str(folder)])
        told = capsys.readouterr()
        return code, told.out, told.err

    return run


@pytest.fixture
def farm(tmp_path: Path, influx: Influx) -> Path:
    """Return a farm with nine days of a sprouting room, a batch in it, and a mirror."""
    path = tmp_path / "farm"
    path.mkdir()
    folder = new_folder(path)
    table = f'[mirror]\nurl = "{influx.url}"\nbucket = "farms"\nsite = "brook"\n'
    folder.change("farm.toml", "# ---- Places", f"{table}\n# ---- Places")
    now_ms = SystemClock().now_ms()
    with closing(Ledger.open(path / "data" / "ledger.db")) as ledger:
        start = Start("ranunculus", "Dawn Apricot", "sprouting-room", "pre_sprout", "corms",
                      Count(300))  # fmt: skip
        ledger.write_entries(add(start, Writing("Wren", now_ms - 8 * DAY_MS, now_ms)), now_ms)
    with closing(ReadingStore.open(path / "data" / "readings.db")) as store:
        for day in range(9, 0, -1):
            store.commit(Commit(_day(now_ms - day * DAY_MS, day)))
    return path


def _day(begin_ms: int, day: int) -> list[Reading]:
    """Return a day of readings every two minutes, warmest at noon, with a gap on the third."""
    flags = [Flag.DEVICE_TIME, Flag.DEVICE_TIME | Flag.SUSPECT, Flag.DEVICE_TIME | Flag.SATURATED]
    times = [begin_ms + minute * 60_000 for minute in range(0, 1440 - 300 * (day == 3), 2)]
    return [
        Reading(channel, at_ms, base + size * math.sin(at_ms / 1e7 + day), flag, at_ms)
        for channel, base, size in zip(SHELF, (8.0, 88.0), (2.5, 9.0), strict=True)
        for at_ms in times
        for flag in [flags[0] if at_ms % 840_000 else flags[1 + at_ms % 2]]
    ]


def test_a_pulled_store_gives_the_same_batch_report(
    farm: Path, tmp_path: Path, run: Run, influx: Influx
) -> None:
    """Filled, equal, pulled into an office with the ledger of a backup: one history, one report."""
    assert run(farm, "fill")[0] == 0
    code, out, _ = run(farm, "verify")
    assert code == 0
    assert out.startswith("Equal: 12,660 readings of 2 channels on ")
    assert influx.count("temperature_c") == influx.count("humidity_pct") == 6_330
    office = tmp_path / "office"
    (office / "data").mkdir(parents=True)
    for name in FILES:
        shutil.copy(farm / name, office / name)
    shutil.copy(farm / "data" / "ledger.db", office / "data" / "ledger.db")
    code, out, _ = run(office, "pull", "--site", "brook")
    assert code == 0
    assert out.startswith("12,660 readings of 2 channels of the site brook are here now.")
    assert "Readings only" in out
    now_ms = SystemClock().now_ms()
    first = report_of(farm, now_ms)
    assert first == report_of(office, now_ms)
    assert '"coverage": 0.9' in json.dumps(first)
    for channel in SHELF:
        with (
            closing(ReadingReader(farm / "data" / "readings.db")) as one,
            closing(ReadingReader(office / "data" / "readings.db")) as other,
        ):
            here, there = one.series(channel, 0), other.series(channel, 0)
        assert here.at_ms.tolist() == there.at_ms.tolist()
        assert here.raw.tobytes() == there.raw.tobytes()
        assert here.flags.tolist() == there.flags.tolist()
    code, out, _ = run(office, "fill")
    assert out.startswith("0 readings sent, 0 refused")
    assert run(office, "verify")[0] == 0


def test_pull_mixes_with_nothing_and_leaves_nothing_half_done(
    farm: Path, tmp_path: Path, run: Run, influx: Influx
) -> None:
    """A store with readings, a site of no readings, and a silent server are refused by name."""
    code, out, err = run(farm, "pull")
    assert (code, out) == (2, "")
    assert "holds readings already" in err
    office = tmp_path / "office"
    office.mkdir()
    for name in FILES:
        shutil.copy(farm / name, office / name)
    assert "nothing of the site 'mill'" in run(office, "pull", "--site", "mill")[2]
    influx.stop_front()
    code, _, err = run(office, "pull")
    assert code == 2
    assert "does not answer" in err
    assert [each.name for each in (office / "data").glob("readings*")] == []


def test_what_differs_is_named_with_what_to_do(farm: Path, run: Run, influx: Influx) -> None:
    """A day lost there: exit code 1, channel and day, and the command that mends it."""
    run(farm, "fill")
    day_ms = (SystemClock().now_ms() // DAY_MS - 4) * DAY_MS
    span = f"time >= {day_ms}ms AND time < {day_ms + DAY_MS}ms"
    influx.ask(f"DELETE FROM cormwatch WHERE {span}")
    code, out, _ = run(farm, "verify")
    assert code == 1
    assert "sprouting-shelf humidity: 720 here, 0 there" in out
    since = out.rpartition("--since ")[2].strip()
    code, out, _ = run(farm, "verify", "--json")
    told = json.loads(out)
    assert (code, told["equal"], len(told["differences"])) == (1, False, 2)
    assert told["differences"][0]["day"] == since
    assert run(farm, "fill", "--since", since)[0] == 0
    assert run(farm, "verify")[0] == 0


def test_the_status_tells_what_waits_and_why(farm: Path, run: Run, influx: Influx) -> None:
    """Before, while the server is away, and after."""
    told = json.loads(run(farm, "status", "--json")[1])
    assert (told["waiting"], told["sent"], told["failing_since"]) == (12_660, 0, None)
    influx.close_front(503)
    code, out, err = run(farm, "fill")
    assert (code, out) == (2, "")
    assert "it is not ready (answer 503" in err
    assert "It takes none since" in run(farm, "status")[1]
    influx.close_front(None)
    assert run(farm, "fill")[0] == 0
    out = run(farm, "status")[1]
    assert "12,660 readings sent" in out
    assert "0 wait." in out


def test_a_farm_without_the_table_is_told_where_to_write_it(tmp_path: Path, run: Run) -> None:
    """No mirror, no guess."""
    new_folder(tmp_path)
    for words in (("status",), ("fill",), ("verify",), ("pull",)):
        code, out, err = run(tmp_path, *words)
        assert (code, out) == (2, "")
        assert "farm.toml has no [mirror]" in err


def test_no_token_is_printed_or_kept(farm: Path, run: Run, influx: Influx) -> None:
    """Wherever it fails, the token stands in no line and no file of ours."""
    (farm / "hush").write_text("rumpelstiltskin-7", encoding="utf-8")
    text = (farm / "farm.toml").read_text(encoding="utf-8")
    text = text.replace('site = "brook"', 'site = "brook"\ntoken = "file:hush"', 1)
    (farm / "farm.toml").write_text(text, encoding="utf-8")
    told = ""
    for status in (401, 503):
        influx.close_front(status)
        for words in (("fill",), ("verify",), ("status",)):
            told += "".join(run(farm, *words)[1:])
    with closing(MirrorFile.open(farm / "data" / "mirror.db")) as file:
        told += str(file.outcome())
    assert "does not accept the token" in told
    assert "rumpelstiltskin" not in told


def test_what_stands_in_the_mirror_may_be_thinned_and_still_compares(
    farm: Path, run: Run, influx: Influx
) -> None:
    """Each day that reads back from there; one that was lost there stays whole here."""
    assert run(farm, "fill")[0] == 0
    day_ms = (SystemClock().now_ms() // DAY_MS - 4) * DAY_MS
    influx.ask(f"DELETE FROM cormwatch WHERE time >= {day_ms}ms AND time < {day_ms + DAY_MS}ms")
    file = farm / "farm.toml"
    text = file.read_text("utf-8")
    file.write_text(text.replace("# ---- Places", "[history]\nthin_after_months = 6\n\n# ----", 1))
    loaded = load(farm)
    later = HandClock(SystemClock().now_ms() + 250 * DAY_MS)
    with (
        closing(Ledger.open(farm / "data" / "ledger.db")) as ledger,
        closing(ReadingReader(farm / "data" / "readings.db")) as reader,
    ):
        before = [reader.series(each, 0) for each in SHELF]
        thinning = Thinning(lambda: loaded, ledger, later, breath_s=0.0)
        while thinning.turn():
            pass
        for channel, whole in zip(SHELF, before, strict=True):
            rows = reader.page(channel, 0, 2**62, 10**6)
            days = rows.at_ms // DAY_MS == day_ms // DAY_MS
            assert days.sum() == 720
            assert (~days).sum() < len(whole.at_ms) / 2
            told = reader.series(channel, 0)
            value = np.interp(whole.at_ms, told.at_ms, told.raw)
            assert np.abs(value - whole.raw).max() <= TOLERANCE[channel.quantity]
    code, out, _ = run(farm, "verify", "--json")
    assert (code, {each["day"] for each in json.loads(out)["differences"]}) == (
        1, {f"{datetime.fromtimestamp(day_ms / 1000, UTC):%Y-%m-%d}"},
    )  # fmt: skip
