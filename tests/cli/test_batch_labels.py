"""``cormwatch batch labels`` from the command line."""

from collections.abc import Callable
from pathlib import Path

import pytest

from monitor.batches.counts import Count
from monitor.batches.rules import Start, Writing, add
from monitor.cli import main
from monitor.clock import SystemClock
from monitor.store import Ledger
from tests.cli.small_farm import small_farm

Run = Callable[..., tuple[int, str, str]]
DAY_MS = 86_400_000
PAGES = '\n[pages]\nbase_url = "{}"\n'


@pytest.fixture
def labels(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Run:
    """Return a runner of ``batch labels`` on a farm with two batches."""
    small_farm(tmp_path)
    (tmp_path / "data").mkdir()
    now_ms = SystemClock().now_ms()
    ledger = Ledger.open(tmp_path / "data" / "ledger.db")
    for cultivar in ("Dawn Apricot", "<b>Odd & Sons</b> " + "very " * 50):
        start = Start("ranunculus", cultivar, "sprouting-room", "pre_sprout", "corms", Count(300))
        ledger.write_entries(add(start, Writing("Wren", now_ms - DAY_MS, now_ms)), now_ms)
    ledger.close()

    def run(*words: str, base: str = "https://barn.local:8484/") -> tuple[int, str, str]:
        file = tmp_path / "farm.toml"
        text = file.read_text(encoding="utf-8").partition("\n[pages]")[0]
        file.write_text(text + (PAGES.format(base) if base else ""), encoding="utf-8")
        code = main(["batch", "labels", *words, "--farm", str(tmp_path)])
        told = capsys.readouterr()
        return code, told.out, told.err

    return run


def test_a_sheet_holds_each_batch_that_is_here(labels: Run, tmp_path: Path) -> None:
    """The page has a label a batch, names are only text, and says where it was written."""
    code, out, err = labels("--html", str(tmp_path / "crates.html"))
    assert code == 0, err
    assert "crates.html: open it in a browser" in out
    page = (tmp_path / "crates.html").read_text(encoding="utf-8")
    assert page.count('<li class="crate">') == 2
    assert page.count("<svg") == 2
    assert "<b>Odd" not in page
    assert "&lt;b&gt;Odd &amp; Sons" in page
    assert "<form" not in page


def test_one_code_stands_alone_in_a_drawing(labels: Run, tmp_path: Path) -> None:
    """The file holds the symbol of the batch's address, 30 mm wide with its quiet zone."""
    code, out, err = labels("2", "--svg", str(tmp_path / "code.svg"))
    assert code == 0, err
    assert "https://barn.local:8484/batches/2" in out
    drawing = (tmp_path / "code.svg").read_text(encoding="utf-8")
    assert 'width="30.0mm"' in drawing or 'width="30mm"' in drawing
    assert "<title>Batch 2</title>" in drawing


@pytest.mark.parametrize("base", ["", "http://127.0.0.1:8484", "http://localhost:8484"])
def test_without_an_address_it_says_what_to_do(labels: Run, tmp_path: Path, base: str) -> None:
    """No address, or one of this computer alone, is no label: the remedy is said, no file made."""
    code, _, err = labels("--html", str(tmp_path / "crates.html"), base=base)
    assert code == 2
    assert "under [pages], write base_url with" in err
    assert not (tmp_path / "crates.html").exists()


def test_what_cannot_be_labelled_is_refused(labels: Run, tmp_path: Path) -> None:
    """An unknown batch, no copies or too many, and a drawing of all are refused."""
    sheet = ("--html", str(tmp_path / "crates.html"))
    for words in (("99", *sheet), ("--copies", "0", *sheet), ("--copies", "61", *sheet),
                  ("--svg", str(tmp_path / "x.svg"))):  # fmt: skip
        code, _, err = labels(*words)
        assert code == 2, words
        assert err
    assert not (tmp_path / "crates.html").exists()
