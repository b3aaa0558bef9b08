"""``cormwatch backup`` and ``restore``: one file, whole or not at all."""

import json
import shutil
import zipfile
from contextlib import closing
from pathlib import Path
from typing import Final

import pytest

from monitor.cli import main
from monitor.clock import SystemClock
from monitor.errors import StoreError
from monitor.farm import FILES, load
from monitor.mirror.gathering import known
from monitor.model import AlarmKey, AlarmKind, Channel, Flag, Quantity, Reading
from monitor.notices.drills import plain_test
from monitor.store import (
    ArrivalReader,
    Commit,
    Ledger,
    MirrorFile,
    ReadingStore,
    put_back,
    read_copy,
)
from monitor.store.outbox import OF_A_COPY
from tests.cli.small_farm import raised, small_farm
from tests.system.mirrored import report_of

START_MS: Final = 1_768_528_800_000
CHANNEL: Final = Channel("cooler-door", Quantity.TEMPERATURE)
Said = pytest.CaptureFixture[str]


def _reading(number: int) -> Reading:
    at_ms = START_MS + number * 60_000
    return Reading(CHANNEL, at_ms, 3.0 + number / 100, Flag.DEVICE_TIME, at_ms)


@pytest.fixture
def farm(tmp_path: Path) -> Path:
    """Return a farm's folder with fifty readings and one batch."""
    folder = tmp_path / "farm"
    folder.mkdir()
    small_farm(folder)
    store = ReadingStore.open(folder / "data" / "readings.db")
    store.commit(Commit(readings=[_reading(number) for number in range(50)]))
    store.close()
    words = ["--crop", "ranunculus", "--cultivar", "Meadow Blush", "--count", "40"]
    where = ["--place", "walk-in-cooler", "--stage", "cut_stems", "--by", "ida"]
    assert main(["batch", "add", *words, *where, "--farm", str(folder)]) == 0
    return folder


def _told(capsys: Said, folder: Path) -> tuple[str, str]:
    capsys.readouterr()
    assert main(["export", "readings", "--farm", str(folder)]) == 0
    readings = capsys.readouterr().out
    assert main(["batch", "list", "--json", "--farm", str(folder)]) == 0
    return readings, capsys.readouterr().out


def test_what_is_put_back_elsewhere_tells_the_same(
    farm: Path, tmp_path: Path, capsys: Said
) -> None:
    """Readings, batches and files of a copy, put into another folder, are those of the farm."""
    copy = tmp_path / "copy.zip"
    assert main(["backup", "--to", str(copy), "--farm", str(farm)]) == 0
    other = tmp_path / "elsewhere"
    assert main(["restore", str(copy), "--farm", str(other)]) == 0
    assert _told(capsys, other) == _told(capsys, farm)
    assert (other / "farm.toml").read_bytes() == (farm / "farm.toml").read_bytes()
    for each in (copy, other / "data" / "readings.db", other / "data" / "ledger.db"):
        assert each.stat().st_mode & 0o777 == 0o600


def test_a_copy_is_made_while_the_farm_is_written(farm: Path, tmp_path: Path, capsys: Said) -> None:
    """A writer that goes on holds up no copy, and the copy has all that stood when it began."""
    store = ReadingStore.open(farm / "data" / "readings.db")
    store.commit(Commit(readings=[_reading(50)]))
    capsys.readouterr()
    copy = tmp_path / "copy.zip"
    assert main(["backup", "--to", str(copy), "--json", "--farm", str(farm)]) == 0
    store.commit(Commit(readings=[_reading(51)]))
    store.close()
    told = json.loads(capsys.readouterr().out)
    assert told["rows"]["readings.db"]["readings"] == 51
    assert told["rows"]["ledger.db"]["entries"] == 1


def test_a_changed_copy_is_refused_and_leaves_nothing(
    farm: Path, tmp_path: Path, capsys: Said
) -> None:
    """One byte that has changed is noticed before anything is put back."""
    copy = tmp_path / "copy.zip"
    assert main(["backup", "--to", str(copy), "--farm", str(farm)]) == 0
    bad = tmp_path / "bad.zip"
    with zipfile.ZipFile(copy) as good, zipfile.ZipFile(bad, "w") as made:
        for name in good.namelist():
            text = good.read(name)
            made.writestr(name, text + b"\n" if name == "farm.toml" else text)
    assert main(["backup", "--verify", str(copy), "--farm", str(farm)]) == 0
    capsys.readouterr()
    other = tmp_path / "elsewhere"
    assert main(["restore", str(bad), "--farm", str(other)]) == 2
    assert "farm.toml has changed" in capsys.readouterr().err
    assert not other.exists()
    half = tmp_path / "half.zip"
    half.write_bytes(copy.read_bytes()[: copy.stat().st_size // 2])
    assert main(["restore", str(half), "--farm", str(other)]) == 2
    assert "no whole copy" in capsys.readouterr().err


def _refusal(copy: Path) -> str:
    try:
        read_copy(copy)
    except StoreError as failure:
        return str(failure)
    return ""


def test_whichever_bit_of_a_copy_has_changed_it_is_told_in_a_sentence(
    farm: Path, tmp_path: Path
) -> None:
    """Within packed bytes and the archive's own, at three hundred places: a refusal, or whole."""
    copy, bad = tmp_path / "copy.zip", tmp_path / "bad.zip"
    assert main(["backup", "--to", str(copy), "--farm", str(farm)]) == 0
    whole, told = copy.read_bytes(), list[str]()
    for at in range(0, len(whole), len(whole) // 300):
        bad.write_bytes(whole[:at] + bytes([whole[at] ^ 1 << at % 8]) + whole[at + 1 :])
        told.append(_refusal(bad))
    assert len(list(filter(None, told))) > 250
    assert all(str(bad) in each for each in told if each)


def test_nothing_that_stands_is_overwritten(farm: Path, tmp_path: Path) -> None:
    """A copy goes into an empty folder only, and over no other file."""
    copy = tmp_path / "copy.zip"
    assert main(["backup", "--to", str(copy), "--farm", str(farm)]) == 0
    before = (farm / "data" / "ledger.db").read_bytes()
    with pytest.raises(StoreError, match="there already"):
        put_back(copy, farm)
    assert (farm / "data" / "ledger.db").read_bytes() == before
    assert main(["backup", "--to", str(copy), "--farm", str(farm)]) == 2


@pytest.mark.parametrize("log", ["readings.db-wal", "ledger.db-wal", "readings.db-journal"])
def test_no_log_of_another_database_gets_into_what_is_put_back(
    farm: Path, tmp_path: Path, log: str
) -> None:
    """A log that was left beside a database that is gone is refused: SQLite would apply it."""
    copy = tmp_path / "copy.zip"
    assert main(["backup", "--to", str(copy), "--farm", str(farm)]) == 0
    other = tmp_path / "elsewhere"
    (other / "data").mkdir(parents=True)
    (other / "data" / log).write_bytes(b"left by a kill")
    with pytest.raises(StoreError, match=f"{log} is there already"):
        put_back(copy, other)
    assert [each.name for each in (other / "data").iterdir()] == [log]


def test_what_is_put_back_is_another_file_to_the_mirror(farm: Path, tmp_path: Path) -> None:
    """A cursor of before, with as many late rows behind it, is never taken for its own."""
    data, copy = farm / "data", tmp_path / "copy.zip"
    assert main(["backup", "--to", str(copy), "--farm", str(farm)]) == 0
    _late_rows(data, 60)
    with (
        closing(MirrorFile.open(data / "mirror.db")) as file,
        closing(ArrivalReader(data / "readings.db")) as reader,
    ):
        found = reader.standing()
        file.begin(found.token, "office", found.last_late, found.heads)
    for each in ("ledger.db", "readings.db"):
        (data / each).unlink()
    for each in FILES:
        (farm / each).unlink()
    assert main(["restore", str(copy), "--farm", str(farm)]) == 0
    _late_rows(data, 90)  # before anybody looks
    with (
        closing(MirrorFile.open(data / "mirror.db")) as file,
        closing(ArrivalReader(data / "readings.db")) as reader,
    ):
        assert reader.standing().last_late == file.position().late
        assert not known(file.position(), reader.standing(), "office")


def _late_rows(data: Path, number: int) -> None:
    """Keep a newest reading, and a late one behind it."""
    with closing(ReadingStore.open(data / "readings.db")) as store:
        for each in (number, number - 5):
            store.commit(Commit(readings=[_reading(each)]))


def test_a_name_that_leads_out_of_the_folder_is_refused(tmp_path: Path, farm: Path) -> None:
    """A made-up archive cannot write beside the farm's folder."""
    copy, bad = tmp_path / "copy.zip", tmp_path / "bad.zip"
    assert main(["backup", "--to", str(copy), "--farm", str(farm)]) == 0
    with zipfile.ZipFile(copy) as good, zipfile.ZipFile(bad, "w") as made:
        for name in good.namelist():
            text = good.read(name).replace(b'"farm.toml"', b'"../farm.toml"')
            made.writestr("../farm.toml" if name == "farm.toml" else name, text)
    with pytest.raises(StoreError, match="no whole copy"):
        put_back(bad, tmp_path / "elsewhere")
    assert not (tmp_path / "farm.toml").exists()


def test_another_machine_tells_the_same_by_the_copy_alone(
    farm: Path, tmp_path: Path, capsys: Said
) -> None:
    """Batch report, alarms and people of a fresh folder; the secrets it lacks are named."""
    text = (farm / "people.toml").read_text("utf-8")
    (farm / "people.toml").write_text(text + 'addresses = ["file:secrets/wren"]\n', "utf-8")
    (farm / "secrets").mkdir()
    (farm / "secrets" / "wren").write_text("json://hidden.example.org/rumpelstiltskin", "utf-8")
    now_ms = SystemClock().now_ms()
    with closing(Ledger.open(farm / "data" / "ledger.db")) as ledger:
        ledger.transact(AlarmKey(AlarmKind.TOO_WARM, "walk-in-cooler"), raised, START_MS)
    copy = tmp_path / "stick" / "copy.zip"
    assert main(["backup", "--to", str(copy), "--farm", str(farm)]) == 0
    report, lists = report_of(farm, now_ms), _lists(capsys, farm)
    shutil.rmtree(farm)
    other = tmp_path / "elsewhere"
    assert main(["restore", str(copy), "--farm", str(other)]) == 0
    said = capsys.readouterr().out
    assert "people.toml" in said
    assert "secrets/wren" in said
    assert "rumpelstiltskin" not in said
    assert b"rumpelstiltskin" not in copy.read_bytes()
    (other / "secrets").mkdir()
    (other / "secrets" / "wren").write_text("json://hidden.example.org/carried", "utf-8")
    assert report_of(other, now_ms) == report
    assert _lists(capsys, other) == lists
    assert '"too_warm"' in lists[0]
    assert "wren" in lists[1]


def test_what_waited_in_a_copy_is_sent_to_nobody(farm: Path, tmp_path: Path) -> None:
    """Last month's messages ring no phone from another computer; the alarm itself stands."""
    with closing(Ledger.open(farm / "data" / "ledger.db")) as ledger:
        ledger.transact(AlarmKey(AlarmKind.TOO_WARM, "walk-in-cooler"), raised, START_MS)
        ledger.add_notices([plain_test(load(farm), "wren", "1", "Ida", START_MS)])
        assert [each.status for each in ledger.waiting(2**62)] == ["waiting"]
    copy, other = tmp_path / "copy.zip", tmp_path / "elsewhere"
    assert main(["backup", "--to", str(copy), "--farm", str(farm)]) == 0
    assert main(["restore", str(copy), "--farm", str(other)]) == 0
    with closing(Ledger.open(other / "data" / "ledger.db")) as ledger:
        assert ledger.waiting(2**62) == []
        assert [(each.status, each.last_error) for each in ledger.notices()] == [
            ("dropped", OF_A_COPY)
        ]
        assert [each.active for each in ledger.alarms()] == [True]


def _lists(capsys: Said, folder: Path) -> list[str]:
    told = []
    for words in (("alarm", "list"), ("people", "list"), ("place", "list"), ("batch", "list")):
        capsys.readouterr()
        assert main([*words, "--json", "--farm", str(folder)]) == 0
        told.append(capsys.readouterr().out)
    return told


def test_a_copy_says_which_secrets_it_holds(farm: Path, tmp_path: Path, capsys: Said) -> None:
    """Each that stands written out in a file is named by its place, never by itself."""
    assert main(["backup", "--to", str(tmp_path / "one.zip"), "--farm", str(farm)]) == 0
    before = capsys.readouterr().out
    people = farm / "people.toml"
    text = people.read_text(encoding="utf-8")
    more = '[[person]]\nid = "ash"\nname = "Ash"\naddresses = ["env:ASH", "json://127.0.0.1:9/abc"]'
    people.write_text(f"{text}\n{more}\n", encoding="utf-8")
    people.chmod(0o600)
    number = text.count("[[person]]") + 1
    two = tmp_path / "two.zip"
    assert main(["backup", "--to", str(two), "--farm", str(farm), "--json"]) == 0
    named = json.loads(capsys.readouterr().out)["secrets"]
    assert f"people.toml person[{number}].addresses[2]" in named
    assert not any("addresses[1]" in each and f"person[{number}]" in each for each in named)
    assert main(["backup", "--verify", str(two)]) == 0
    told = capsys.readouterr().out
    assert "as private as them" in told
    assert "json://127.0.0.1:9/abc" not in told + before + str(named)
