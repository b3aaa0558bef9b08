"""``cormwatch report`` from the command line, on the starter farm with a made-up season."""

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from monitor.batches.counts import Count
from monitor.batches.rules import Start, Writing, add
from monitor.cli import main
from monitor.clock import SystemClock
from monitor.store import Ledger
from tests.cli.small_farm import small_farm

Run = Callable[..., tuple[int, str, str]]
DAY_MS = 86_400_000


@pytest.fixture
def report(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Run:
    """Return a runner of ``report`` words on a farm with one batch of corms and no reading."""
    small_farm(tmp_path)
    (tmp_path / "data").mkdir()
    now_ms = SystemClock().now_ms()
    ledger = Ledger.open(tmp_path / "data" / "ledger.db")
    start = Start("ranunculus", "Dawn Apricot", "sprouting-room", "pre_sprout", "corms", Count(300))
    ledger.write_entries(add(start, Writing("Wren", now_ms - 9 * DAY_MS, now_ms)), now_ms)
    ledger.close()

    def run(*words: str) -> tuple[int, str, str]:
        code = main(["report", *words, "--farm", str(tmp_path)])
        told = capsys.readouterr()
        return code, told.out, told.err

    return run


def as_json(report: Run, *words: str) -> Any:  # noqa: ANN401 - JSON
    """Return what a command prints with --json."""
    code, out, err = report(*words, "--json")
    assert code == 0, err
    return json.loads(out)


@pytest.mark.parametrize("number", [("1",), ("#1",), ("batch", "1")])
def test_a_batch_is_reported_by_its_number(report: Run, number: tuple[str, ...]) -> None:
    """1, #1 and batch 1 name the same report; JSON stands alone on standard output."""
    told = as_json(report, *number)
    assert (told["id"], told["cultivar"]) == (1, "Dawn Apricot")
    assert told["verdict"]["answer"] in ("ready", "wait", "look_closely")
    assert told["stages"][0]["coverage"] == 0


def test_a_report_without_readings_is_said_in_plain_sentences(report: Run) -> None:
    """No reading: the lines say that the air is not known, and make up no figure."""
    code, out, err = report("1")
    assert (code, err) == (0, "")
    assert out.startswith("Batch 1, Dawn Apricot, Pre-sprout, day 10: look closely.")
    assert "The air of Sprouting room at Pre-sprout is not known" in out
    assert "Advice from the records" in out


def test_csv_and_page_are_written(report: Run, tmp_path: Path) -> None:
    """CSV has a heading and rows; the page goes into the file that was named."""
    code, out, _ = report("1", "--csv")
    assert code == 0
    assert next(csv.reader(io.StringIO(out)))[:3] == ["row", "stage", "place"]
    page = tmp_path / "batch.html"
    code, out, _ = report("1", "--html", str(page))
    assert code == 0
    assert str(page) in out
    assert page.read_text(encoding="utf-8").startswith("<!doctype html>")


def test_what_is_added_to_the_question_is_reckoned_with(report: Run) -> None:
    """A typed low, a cover and a place are taken in the farm's own words."""
    told = as_json(
        report, "1", "--low", "27 F", "--heat", "60 F", "--cover", "heavy", "--to", "tunnel 2"
    )
    assert told["verdict"]["answer"] == "look_closely"


def test_comparison_and_year_sheet_are_told(report: Run, tmp_path: Path) -> None:
    """Compare BATCH and year [YEAR] print lines, JSON, CSV and a page."""
    assert as_json(report, "compare", "1")["batch"] == 1
    year = as_json(report, "year")
    assert [lot["cultivar"] for lot in year["lots"]] == ["Dawn Apricot"]
    assert as_json(report, "year", "1999")["lots"] == []
    assert "no earlier batch" in report("compare", "1")[1]
    assert "Dawn Apricot" in report("year")[1]
    assert report("year", "--csv")[1].startswith("crop,cultivar,supplier")
    page = tmp_path / "year.html"
    assert report("year", "--html", str(page))[0] == 0
    assert "Year sheet" in page.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (("9",), "no batch 9: open batches are 1"),
        (("nine",), "no batch number"),
        (("compare", "9"), "no batch 9"),
        (("compare",), "no batch number"),
        (("year", "soon"), "no year"),
        (("1", "--low", "cold"), "no temperature"),
        (("1", "--for", "someday"), "no time"),
        (("1", "--to", "attic"), "attic"),
        (("1", "--html", "/nowhere/at/all.html"), "cannot be written"),
    ],
)
def test_what_cannot_be_is_refused_in_one_line(
    report: Run, words: tuple[str, ...], complaint: str
) -> None:
    """A refusal is a clear line on standard error, exit code 2, nothing on standard output."""
    code, out, err = report(*words)
    assert (code, out) == (2, "")
    assert err.startswith("cormwatch report: ")
    assert complaint in err
