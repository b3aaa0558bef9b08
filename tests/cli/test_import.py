"""``cormwatch import readings``: a file's readings, all of them or none, and never an alarm."""

from contextlib import closing
from pathlib import Path

import pytest

from monitor.cli import main
from monitor.model import Channel, Flag, Quantity
from monitor.store import ReadingReader, Series
from tests.cli.small_farm import small_farm

AIR = Channel("cooler-door", Quantity.TEMPERATURE)
HEAD = "at,sensor,quantity,value,unit\n"
Said = pytest.CaptureFixture[str]


@pytest.fixture
def farm(tmp_path: Path) -> Path:
    """Return a small farm's folder."""
    folder = tmp_path / "farm"
    folder.mkdir()
    return small_farm(folder)


def _row(minute: int, value: str, unit: str = "C") -> str:
    return f"2026-02-01T08:{minute:02}:00Z,cooler-door,temperature,{value},{unit}\n"


def _bring(farm: Path, capsys: Said, text: str, *words: str) -> tuple[int, str]:
    file = farm / "logger.csv"
    file.write_text(text, "utf-8")
    capsys.readouterr()
    code = main(["import", "readings", str(file), *words, "--farm", str(farm)])
    told = capsys.readouterr()
    return code, told.out + told.err


def _kept(farm: Path) -> Series:
    path = farm / "data" / "readings.db"
    if not path.exists():
        return Series(*[()] * 3)  # type: ignore[arg-type]
    with closing(ReadingReader(path)) as reader:
        return reader.series(AIR, 0)


def test_an_export_brought_into_another_farm_is_the_same_readings(
    farm: Path, tmp_path: Path, capsys: Said
) -> None:
    """Times and values to the last bit, marked as imported; brought again, nothing is new."""
    _bring(farm, capsys, HEAD + "".join(_row(at, str(2 + at / 7)) for at in range(60)))
    assert main(["export", "readings", "--farm", str(farm)]) == 0
    text = capsys.readouterr().out
    other = tmp_path / "other"
    other.mkdir()
    small_farm(other)
    assert _bring(other, capsys, text)[1].startswith("60 readings were imported; 0 are there")
    here, there = _kept(farm), _kept(other)
    assert (here.at_ms.tolist(), here.raw.tobytes()) == (there.at_ms.tolist(), there.raw.tobytes())
    assert (there.flags & int(Flag.IMPORTED) != 0).all()
    assert _bring(other, capsys, text)[1].startswith("0 readings were imported; 60 are there")


def test_a_dry_run_foretells_what_the_import_says(farm: Path, capsys: Said) -> None:
    """New, repeated, differing, and twice in the file itself: counted before, stored after."""
    _bring(farm, capsys, HEAD + "".join(_row(at, "3.5") for at in range(20)))
    rows = [_row(at, "3.5" if at % 3 else "4.5") for at in range(10, 40)]
    text = HEAD + "".join([*rows, _row(39, "4.5"), _row(38, "9"), _row(15, "9")])
    code, foretold = _bring(farm, capsys, text, "--dry-run")
    assert code == 0
    assert foretold == (
        "20 readings can be imported; 8 are there already, 5 differ from what is kept and are "
        "left out; nothing was stored\n"
    )
    assert len(_kept(farm).raw) == 20
    said = _bring(farm, capsys, text)[1]
    assert said == foretold.replace("can be", "were").replace("; nothing was stored", "")
    assert len(_kept(farm).raw) == 40


@pytest.mark.outside
def test_a_temperature_may_come_in_another_unit(farm: Path, capsys: Said) -> None:
    """NIST SP 811, B.9: t/°C = (t/°F - 32)/1.8 = T/K - 273.15."""
    text = HEAD + _row(1, "50", "F") + _row(2, "283.15", "K") + _row(3, "10", "C")
    assert _bring(farm, capsys, text)[0] == 0
    assert _kept(farm).raw.tolist() == pytest.approx([10.0, 10.0, 10.0], abs=1e-12)


@pytest.mark.parametrize(
    ("line", "told"),
    [
        (_row(5, "3,5"), "line 3: '5'"),
        (_row(5, "nan"), "line 3: 'nan' is not finite"),
        (_row(5, ""), "line 3: '' is no number"),
        (_row(5, "3.5", ""), "line 3: ''; temperature takes C, F, K"),
        (_row(5, "3.5", "R"), "line 3: 'R'; temperature takes C, F, K"),
        (_row(5, "3.5").replace("Z", ""), "line 3: '2026-02-01T08:05:00' has no zone"),
        (_row(5, "3.5").replace("2026", "2226"), "has not come yet"),
        (_row(5, "3.5").replace("2026", "0202"), "line 3: 0202-02-01T08:05:00Z is before 1970"),
        (_row(5, "1e308"), "impossible: line 3: temperature of 1e+308 cannot be"),
        (_row(5, "350"), "impossible: line 3: temperature of 350 cannot be: -60 to 100 can"),
        (_row(5, "350", "F"), "impossible: line 3: temperature of 176.667 cannot be"),
        (_row(5, "3.5").replace("temperature", "warmth"), "line 3: 'warmth'"),
        (_row(5, "3.5").replace("cooler-door", "attic"), "no sensor 'attic' with temperature"),
        ("2026-02-01T08:05:00Z\n", "line 3: None"),
        ('2026-02-01T08:05:00Z,"cooler\n', "no CSV after line"),
        ('"two\nlines",cooler-door,temperature,3,C\n', "line 4: 'two\\nlines' is no ISO 8601"),
    ],
)
def test_a_bad_line_is_named_and_nothing_of_the_file_is_stored(
    farm: Path, capsys: Said, line: str, told: str
) -> None:
    """However many good lines stand before it, and in a dry run too."""
    text = HEAD + _row(1, "3.5") + line
    for words in ((), ("--dry-run",)):
        code, said = _bring(farm, capsys, text, *words)
        assert code == 2
        assert told in said
        assert not len(_kept(farm).raw)


@pytest.mark.parametrize("column", ["at", "sensor", "quantity", "value", "unit"])
def test_a_missing_column_is_named(farm: Path, capsys: Said, column: str) -> None:
    """No unit is guessed, nor anything else."""
    text = HEAD.replace(column, "other") + _row(1, "3.5")
    assert f"the column {column} is missing" in _bring(farm, capsys, text)[1]


def test_what_is_no_text_is_refused(farm: Path, capsys: Said) -> None:
    """A spreadsheet's own file, or a missing one, is told in one line."""
    (farm / "sheet.csv").write_bytes(b"PK\x03\x04\xff\xfe" * 30)
    for name in ("sheet.csv", "nowhere.csv"):
        assert main(["import", "readings", str(farm / name), "--farm", str(farm)]) == 2
        assert "cannot be read as CSV" in capsys.readouterr().err
