"""``cormwatch replay``: a farm's own history by its limits, and by others beside them."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import numpy as np
import pytest

from monitor.cli import main
from monitor.model import Channel, Flag, Quantity, Reading
from monitor.store import Commit, ReadingStore
from tests.cli.small_farm import FARM, small_farm

START_MS: Final = 1_768_528_800_000  # 2026-01-16, 02:00 in the zone -4/-5 of the farm: 21:00
MINUTE_MS: Final = 60_000
HARM: Final = """
[place.bands.temperature.harm]
high = "42 F"
tolerated = "30 min"
grade = "CP"
source = "common practice"

[[sensor]]"""

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def replayed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Run:
    """Return a call of ``replay`` over two nights, each with an hour at 45 °F."""
    small_farm(tmp_path)
    quiet = '\n[notices]\nquiet_from = "21:00"\nquiet_until = "07:00"\n'
    text = FARM.replace("\n[[sensor]]", HARM, 1) + quiet
    (tmp_path / "farm.toml").write_text(text, encoding="utf-8")
    (tmp_path / "data").mkdir()
    value_c = np.full(48 * 60, 3.3)
    value_c[5 * 60 : 6 * 60] = value_c[29 * 60 : 30 * 60] = 7.2
    channel = Channel("cooler-door", Quantity.TEMPERATURE)
    store = ReadingStore.open(tmp_path / "data" / "readings.db")
    store.commit(Commit(readings=[
        Reading(channel, at, value, Flag.DEVICE_TIME, at)
        for at, value in zip(
            range(START_MS, START_MS + 48 * 60 * MINUTE_MS, MINUTE_MS), value_c, strict=True
        )
    ]))  # fmt: skip
    store.close()

    def run(*words: str) -> tuple[int, str, str]:
        code = main(["replay", "--farm", str(tmp_path), *words])
        said = capsys.readouterr()
        return code, said.out, said.err

    return run


def _accounts(run: Run, *words: str) -> list[dict[str, Any]]:
    code, out, _ = run(*words, "--json")
    assert code == 0
    found: list[dict[str, Any]] = json.loads(out)["accounts"]
    return found


def _too_warm(account: dict[str, Any]) -> list[dict[str, Any]]:
    return [each for each in account["alarms"] if each["kind"] == "too_warm"]


def test_without_a_comparison_the_list_stays_as_it_was(replayed: Run) -> None:
    """By default JSON is the list of alarms."""
    told = json.loads(replayed("--json")[1])
    assert [each["kind"] for each in told] == ["too_warm", "too_warm"]


def test_nights_are_counted_by_distinct_nights(replayed: Run) -> None:
    """Two hours out in two nights wake someone in two nights; what was told is nothing."""
    was, today = _accounts(replayed, "--compare")
    assert (was["raised"], was["nights_woken"]) == (0, 0)
    assert len(_too_warm(today)) == 2
    assert today["nights"] == ["2026-01-16", "2026-01-17"]


@pytest.mark.parametrize(
    "change",
    ["walk-in-cooler.temperature.harm.high=46 F", "walk-in-cooler.temperature.tolerated=90 min"],
)
def test_a_changed_limit_or_delay_is_judged_by(replayed: Run, change: str) -> None:
    """A limit above what was, or a delay longer than it lasted, wakes nobody."""
    _, today, other = _accounts(replayed, "--set", change)
    assert today["nights_woken"] == 2
    assert (other["raised"], other["nights_woken"]) == (0, 0)


def test_another_folder_of_files_is_judged_by(replayed: Run, tmp_path: Path) -> None:
    """The files of another folder judge this farm's readings."""
    other = tmp_path / "other"
    other.mkdir()
    small_farm(other)
    accounts = _accounts(replayed, "--with", str(other))
    assert [len(_too_warm(each)) for each in accounts] == [0, 2, 0]


def test_the_table_names_each_account(replayed: Run) -> None:
    """Plain text is a table of three lines and the list of each."""
    code, out, _ = replayed("--set", "walk-in-cooler.temperature.harm.high=46 F")
    assert code == 0
    heads = [line.split("  ")[0] for line in out.splitlines()[1:4]]
    assert heads == ["as it was", "by today's files", "as changed"]
    assert "Someone is woken in the nights to 16 Jan and 17 Jan." in out


@pytest.mark.parametrize(
    ("change", "complaint"),
    [
        ("attic.temperature.harm.high=46 F", "there is no place attic"),
        ("walk-in-cooler.temperature.harm.high=46", "no temperature"),
        ("walk-in-cooler.temperature.colour=46 F", "changes nothing"),
        ("walk-in-cooler.temperature", "changes nothing"),
        ("walk-in-cooler.sound.harm.high=46 F", "changes nothing"),
    ],
)
def test_what_cannot_be_changed_is_refused(replayed: Run, change: str, complaint: str) -> None:
    """A change that names nothing, or has no unit, ends with 2 and one sentence."""
    code, out, err = replayed("--set", change)
    assert (code, out) == (2, "")
    assert complaint in err
