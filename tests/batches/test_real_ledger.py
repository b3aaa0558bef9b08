"""The rules inside the real ledger's transactions."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

import pytest

from monitor.batches import Purpose, fold
from monitor.batches.counts import Count
from monitor.batches.rules import Leaving, add, harvest, out, undo
from monitor.errors import LedgerRuleError
from monitor.store import Ledger
from tests.batches.fake_ledger import GROWING, NOW_MS, at, plants, stems


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Return where the ledger is."""
    return tmp_path / "ledger.db"


@pytest.fixture
def ledger(path: Path) -> Iterator[Ledger]:
    """Return a ledger with 300 stems in batch 1 and 300 plants in batch 2."""
    with closing(Ledger.open(path)) as opened:
        opened.write_entries(add(stems(300), at()), NOW_MS)
        opened.write_entries(add(plants(300), at()), NOW_MS)
        yield opened


def _sell(path: Path, number: int) -> bool:
    """Sell stems through a connection of its own; return whether it was allowed."""
    with closing(Ledger.open(path)) as own:
        try:
            own.write_entries(out(1, [Leaving(Purpose.SOLD, Count(number))], at()), NOW_MS)
        except LedgerRuleError:
            return False
    return True


def test_the_same_stems_are_not_sold_twice(path: Path, ledger: Ledger) -> None:
    """Of four sales of 200 at once from 300 stems, one is recorded."""
    with ThreadPoolExecutor(4) as pool:
        sold = list(pool.map(lambda _: _sell(path, 200), range(4)))
    assert sold.count(True) == 1
    assert fold(ledger.entries()).batches[1].count == 100


def test_a_refusal_writes_nothing(ledger: Ledger) -> None:
    """After 500 stems were refused the ledger holds what it held."""
    before = ledger.entries()
    with pytest.raises(LedgerRuleError, match="500 cannot be taken"):
        ledger.write_entries(out(1, [Leaving(Purpose.SOLD, Count(500))], at()), NOW_MS)
    assert ledger.entries() == before


def test_a_harvest_and_its_undoing_stay_together(ledger: Ledger) -> None:
    """Both sides of a harvest share a group, and the undone batch's number is not given again."""
    written = ledger.write_entries(
        harvest(
            2, Count(90), at(), growing=GROWING, stage="cut_stems", place="walk-in-cooler"
        ),
        NOW_MS,
    )  # fmt: skip
    assert len({entry.group for entry in written}) == 1
    assert fold(ledger.entries()).cuttings[0].into == 3
    ledger.write_entries(undo(3, at()), NOW_MS)
    book = fold(ledger.entries())
    assert sorted(book.batches) == [1, 2]
    assert book.contradictions == ()
    assert ledger.write_entries(add(stems(5), at()), NOW_MS)[0].batch == 4
