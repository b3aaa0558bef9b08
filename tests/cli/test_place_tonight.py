"""``cormwatch place tonight`` from the command line."""

import json
from pathlib import Path

import pytest

from monitor.cli import main
from monitor.clock import SystemClock
from monitor.report.forecast import given_low
from monitor.store import Ledger
from monitor.watch.nights import Where, night_day
from tests.cli.small_farm import small_farm


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a farm with a tunnel in which nothing is measured."""
    return small_farm(tmp_path)


def test_says_what_is_missing(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A tunnel without a sensor is told so, in one sentence and without a figure."""
    assert main(["place", "tonight", "--farm", str(folder)]) == 0
    said = capsys.readouterr().out
    assert said == (
        "Tunnel 2, tonight: no outlook, for no sensor tells the air's temperature here.\n"
    )


def test_keeps_a_forecast_low_with_who_and_when(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A low that was typed in is kept beside earlier ones, the newest speaks, with its giver."""
    for low in ("28 F", "-3 C"):
        assert main(["place", "tonight", "--low", low, "--by", "Wren", "--farm", str(folder)]) == 0
    assert "By the forecast low of 27 °F that Wren gave today" in capsys.readouterr().out
    ledger = Ledger.open(folder / "data" / "ledger.db")
    evening = night_day(SystemClock().now_ms(), Where(42.4, -76.5))
    given = given_low(ledger, evening)
    kept = ledger.get(f"forecast_low:{evening.isoformat()}")
    ledger.close()
    assert given is not None
    assert (given.low_c, given.by) == (-3.0, "Wren")
    assert len(kept) == 2


def test_json_is_whole(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """JSON alone on standard output: what is not known is null, what is missing named."""
    assert main(["place", "tonight", "--json", "--farm", str(folder)]) == 0
    told = json.loads(capsys.readouterr().out)
    (night,) = told["nights"]
    assert (night["place"], night["missing"], night["least"]) == ("tunnel-2", "no_air", None)
    assert night["sunset_at"].endswith("Z")
    assert told["heat"] == []


@pytest.mark.parametrize("low", ["28", "a bit of frost", "300 F"])
def test_a_low_that_cannot_be_is_refused(
    folder: Path, capsys: pytest.CaptureFixture[str], low: str
) -> None:
    """A low without a unit, or unlike any night, is an error that says how to write it."""
    assert main(["place", "tonight", "--low", low, "--farm", str(folder)]) == 2
    told = capsys.readouterr()
    assert "unit" in told.err
    assert told.out == ""


def test_a_low_needs_a_giver(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A forecast low by nobody is refused, and nothing is kept."""
    assert main(["place", "tonight", "--low", "28 F", "--by", " ", "--farm", str(folder)]) == 2
    assert "--by NAME" in capsys.readouterr().err
    assert main(["place", "tonight", "--farm", str(folder)]) == 0
    assert "forecast low" not in capsys.readouterr().out
