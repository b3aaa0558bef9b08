"""``cormwatch place loading``: begun, made longer, ended, and what it refuses."""

from pathlib import Path

import pytest

from monitor.batches import fold
from monitor.batches.book import Book
from monitor.cli import main
from monitor.store import Ledger
from tests.cli.small_farm import small_farm

Said = pytest.CaptureFixture[str]


@pytest.fixture
def farm(tmp_path: Path) -> Path:
    """Return a farm with a cooler."""
    small_farm(tmp_path)
    return tmp_path


def _load(farm: Path, *words: str) -> int:
    return main(["place", "loading", *words, "--by", "Ida", "--farm", str(farm)])


def _book(farm: Path) -> Book:
    ledger = Ledger.open(farm / "data" / "ledger.db")
    try:
        return fold(ledger.entries())
    finally:
        ledger.close()


def test_a_loading_is_kept_and_ended_by_hand(farm: Path, capsys: Said) -> None:
    """It lasts 60 minutes by default, and ``--end`` cuts it short without a trace of a batch."""
    assert _load(farm, "walk-in-cooler") == 0
    assert "loading until" in capsys.readouterr().out
    (kept,) = _book(farm).loadings
    assert kept.until_ms - kept.from_ms == 60 * 60_000
    assert _load(farm, "walk-in-cooler", "--end") == 0
    (ended,) = _book(farm).loadings
    assert ended.until_ms < kept.until_ms
    assert not _book(farm).batches
    assert not _book(farm).contradictions
    capsys.readouterr()
    assert _load(farm, "walk-in-cooler", "--end") == 0
    assert "nothing changed" in capsys.readouterr().out


def test_no_loading_takes_longer_than_two_hours(farm: Path, capsys: Said) -> None:
    """Neither one that is asked for at once, nor one made longer again and again."""
    assert _load(farm, "walk-in-cooler", "--for", "3h") == 2
    assert "2 hours at most" in capsys.readouterr().err
    assert _load(farm, "walk-in-cooler", "--for", "119 min") == 0
    assert _load(farm, "walk-in-cooler", "--for", "2h") == 2
    assert "in all" in capsys.readouterr().err


def test_a_batch_after_a_loading_has_a_number_of_its_own(farm: Path, capsys: Said) -> None:
    """The entry of a loading founds no batch: the first one is still number 1."""
    assert _load(farm, "walk-in-cooler") == 0
    words = ["--crop", "ranunculus", "--cultivar", "Dawn", "--count", "50"]
    words += ["--place", "walk-in-cooler", "--stage", "cut_stems", "--farm", str(farm)]
    assert main(["batch", "add", *words]) == 0
    capsys.readouterr()
    assert set(_book(farm).batches) == {1}


@pytest.mark.parametrize("name", ["walk-in-cooler", "Walk-in Cooler", "WALK IN COOLER", "cooler"])
def test_the_place_is_found_as_by_every_command(farm: Path, name: str) -> None:
    """By id or name in any spelling, or by the one word that fits no other place."""
    assert _load(farm, name) == 0
    assert [each.place for each in _book(farm).loadings] == ["walk-in-cooler"]


def test_an_unknown_place_is_refused(farm: Path, capsys: Said) -> None:
    """The refusal names the places there are, as on the pages."""
    assert _load(farm, "cellar") == 2
    assert "farm.toml has Sprouting room, Tunnel 2, Walk-in cooler" in capsys.readouterr().err


def test_a_loading_is_no_batch_to_undo(farm: Path, capsys: Said) -> None:
    """It is ended with ``--end``: as a batch it is not there."""
    assert _load(farm, "walk-in-cooler") == 0
    assert main(["batch", "undo", "0", "--farm", str(farm)]) == 2
    assert "there is no batch 0" in capsys.readouterr().err
