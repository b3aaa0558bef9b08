"""``cormwatch export``: everything that is kept, readable without this program."""

import csv
import io
import json
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from monitor.cli import main
from monitor.farm import FILES
from monitor.model import (
    AlarmKey,
    AlarmKind,
    Channel,
    Flag,
    Quantity,
    Reading,
)
from monitor.report.exporting import TABLES
from monitor.store import Commit, Ledger, ReadingStore
from tests.cli.small_farm import raised, small_farm

START_MS = 1_768_528_800_000
CHANNEL = Channel("cooler-door", Quantity.TEMPERATURE)
Said = pytest.CaptureFixture[str]


def _readings(numbers: range) -> list[Reading]:
    times = [START_MS + number * 1_000 for number in numbers]
    flags = Flag.DEVICE_TIME
    return [Reading(CHANNEL, at, 3.0 + at % 1_700 / 1_000, flags, at) for at in times]


@pytest.fixture
def farm(tmp_path: Path) -> Path:
    """Return a farm's folder with readings, a batch that was seen and moved, and an alarm."""
    folder = tmp_path / "farm"
    folder.mkdir()
    small_farm(folder)
    with closing(ReadingStore.open(folder / "data" / "readings.db")) as store:
        store.commit(Commit(_readings(range(50))))
    for words in (
        ("add", "--crop", "ranunculus", "--cultivar", 'Meadow "Blush", early', "--count", "40",
         "--place", "sprouting-room", "--stage", "pre_sprout", "--at", "5 d ago"),
        ("observe", "1", "--roots", "9 of 25", "--note", "two lines\nof a note", "--at", "2 d ago"),
        ("move", "1", "--to", "tunnel-2", "--stage", "bloom"),
    ):  # fmt: skip
        assert main(["batch", *words, "--by", "wren", "--farm", str(folder)]) == 0
    with closing(Ledger.open(folder / "data" / "ledger.db")) as ledger:
        ledger.transact(AlarmKey(AlarmKind.TOO_WARM, "walk-in-cooler"), raised, START_MS)
        texts = {name: (folder / name).read_text("utf-8") for name in FILES}
        ledger.accept_configuration(texts, "abc", START_MS, "start")
    return folder


def _out(capsys: Said, farm: Path, *words: str) -> str:
    capsys.readouterr()
    assert main(["export", *words, "--farm", str(farm)]) == 0
    return capsys.readouterr().out


def _csv(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_readings_have_the_promised_columns_and_the_same_rows_in_both_forms(
    farm: Path, capsys: Said
) -> None:
    """The columns that others may rely on, exactly; every value reads back to the last bit."""
    text = _out(capsys, farm, "readings")
    assert text.partition("\n")[0] == "at,sensor,quantity,value,raw,unit,flags"
    rows, same = _csv(text), json.loads(_out(capsys, farm, "readings", "--format", "json"))
    assert [float(each["raw"]) for each in rows] == [each.raw for each in _readings(range(50))]
    assert [{**each, "value": float(each["value"]), "raw": float(each["raw"])}
            for each in rows] == same  # fmt: skip
    assert rows[0] | {"value": "", "raw": ""} == {
        "at": "2026-01-16T02:00:00Z", "sensor": "cooler-door", "quantity": "temperature",
        "value": "", "raw": "", "unit": "C", "flags": "device_time",
    }  # fmt: skip
    assert _out(capsys, farm, "readings", "--until", "2026-01-15", "--format", "json") == "[]\n"


@pytest.mark.parametrize("name", list(TABLES))
def test_both_forms_of_a_table_tell_the_same(farm: Path, capsys: Said, name: str) -> None:
    """What is missing is empty or null, a text is itself, anything else reads back as JSON."""
    rows = _csv(_out(capsys, farm, name))
    same: list[dict[str, Any]] = json.loads(_out(capsys, farm, name, "--format", "json"))
    columns = TABLES[name].columns
    assert len(rows) == len(same)
    for row, wanted in zip(rows, same, strict=True):
        assert tuple(row) == columns
        assert set(columns) <= set(wanted)
        for column, text in row.items():
            value = wanted[column]
            assert text == ("" if value is None else value if isinstance(value, str) else text)
            assert isinstance(value, str | None) or json.loads(text) == value
    filled = {"batches": 1, "stays": 2, "observations": 1, "entries": 3, "alarms": 1, "audit": 1,
              "configurations": 3}  # fmt: skip
    assert len(rows) == filled.get(name, 0)


def test_what_was_recorded_stands_in_the_tables(farm: Path, capsys: Said) -> None:
    """Names, notes over two lines, stays in order, an alarm with its transitions, whole files."""
    (batch,) = _csv(_out(capsys, farm, "batches"))
    assert (batch["cultivar"], batch["place"]) == ('Meadow "Blush", early', "tunnel-2")
    stays = _csv(_out(capsys, farm, "stays"))
    assert [each["place"] for each in stays] == ["sprouting-room", "tunnel-2"]
    assert stays[0]["until"] == stays[1]["since"]
    (seen,) = _csv(_out(capsys, farm, "observations"))
    assert seen["note"] == "two lines\nof a note"
    assert json.loads(seen["roots"])["rooted"] == 9
    (alarm,) = json.loads(_out(capsys, farm, "alarms", "--format", "json"))
    assert [each["after"] for each in alarm["audit"]] == ["unacknowledged"]
    files = _csv(_out(capsys, farm, "configurations"))
    assert {each["file"]: each["text"] for each in files} == {
        name: (farm / name).read_text("utf-8") for name in FILES
    }


def test_all_of_it_goes_into_a_folder_that_is_the_owners_alone(
    farm: Path, tmp_path: Path, capsys: Said
) -> None:
    """A file a table, 0600, the same as printed; a folder that stands is not touched."""
    folder = tmp_path / "out" / "spring"
    assert main(["export", "all", "--to", str(folder), "--farm", str(farm)]) == 0
    assert {each.stem for each in folder.iterdir()} == {"readings", *TABLES}
    for each in folder.iterdir():
        assert each.stat().st_mode & 0o777 == 0o600
        assert each.read_text("utf-8") == _out(capsys, farm, each.stem)
    assert main(["export", "all", "--to", str(folder), "--farm", str(farm)]) == 2
    assert "is there already" in capsys.readouterr().err
    assert [each.name for each in folder.parent.iterdir()] == ["spring"]
