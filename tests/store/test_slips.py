"""What is sent twice by one slip is written once."""

import sqlite3
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from monitor.errors import LedgerRuleError
from monitor.model import EntryKind, LedgerEntry, NewEntry
from monitor.model.batch import Slip
from monitor.store import Ledger
from monitor.store.connection import connect_writer
from monitor.store.migrating import migrations, statements

NOW_MS = 1_790_000_000_000
SLIP = Slip("a-token-of-a-phone", "asked")


def _added(_: Sequence[LedgerEntry]) -> list[NewEntry]:
    return [NewEntry(None, EntryKind.ADDED, NOW_MS, "Wren", {"crop": "ranunculus"})]


def test_a_slip_is_taken_once_and_over_a_reopening(tmp_path: Path) -> None:
    """The second time its entries are returned, even by another opening of the file."""
    ledger = Ledger.open(tmp_path / "ledger.db")
    first = ledger.write_entries(_added, NOW_MS, SLIP)
    ledger.close()
    again = Ledger.open(tmp_path / "ledger.db")
    assert again.write_entries(_added, NOW_MS + 1, SLIP) == first
    assert again.entries_by_token(SLIP.token) == first == again.entries()
    assert again.entries_by_token("another") == []
    again.close()


def test_a_token_stands_for_one_thing(tmp_path: Path) -> None:
    """The same token with something else asked is refused, and writes nothing."""
    ledger = Ledger.open(tmp_path / "ledger.db")
    ledger.write_entries(_added, NOW_MS, SLIP)
    with pytest.raises(LedgerRuleError, match="recorded already"):
        ledger.write_entries(_added, NOW_MS, Slip(SLIP.token, "other"))
    assert len(ledger.entries()) == 1
    ledger.close()


def test_a_refusal_leaves_the_token_free(tmp_path: Path) -> None:
    """What was refused may be mended and sent by the same slip."""
    ledger = Ledger.open(tmp_path / "ledger.db")

    def refuse(_: Sequence[LedgerEntry]) -> list[NewEntry]:
        raise LedgerRuleError("no")

    with pytest.raises(LedgerRuleError, match="no"):
        ledger.write_entries(refuse, NOW_MS, SLIP)
    assert len(ledger.write_entries(_added, NOW_MS, Slip(SLIP.token, "mended"))) == 1
    ledger.close()


def test_two_at_once_write_once(tmp_path: Path) -> None:
    """Two openings of one file, as two processes have, agree on who was first."""
    ledgers = [Ledger.open(tmp_path / "ledger.db") for _ in range(4)]
    with ThreadPoolExecutor(4) as pool:
        written = list(pool.map(lambda each: each.write_entries(_added, NOW_MS, SLIP), ledgers * 4))
    assert all(each == written[0] for each in written)
    assert len(ledgers[0].entries()) == 1
    for each in ledgers:
        each.close()


def test_a_ledger_from_before_keeps_its_entries(tmp_path: Path) -> None:
    """The step that adds tokens leaves what was written as it was, with no token."""
    path = tmp_path / "ledger.db"
    old = connect_writer(path)
    for step in migrations("ledger")[:3]:
        for statement in statements(step.text):
            old.execute(statement)
    old.execute("CREATE TABLE migrations (number INTEGER PRIMARY KEY, name TEXT NOT NULL)")
    old.execute("INSERT INTO migrations VALUES (3, '0003')")
    old.execute("INSERT INTO groups (recorded_ms) VALUES (1), (2)")
    old.execute("INSERT INTO batches (given_ms) VALUES (1)")
    old.execute(
        "INSERT INTO entries (group_id, batch, kind, at_ms, recorded_ms, by, data)"
        " VALUES (1, 1, 'added', 1, 1, 'Wren', '{}')"
    )
    old.commit()
    old.close()
    ledger = Ledger.open(path)
    assert [each.by for each in ledger.entries()] == ["Wren"]
    ledger.write_entries(_added, NOW_MS, SLIP)
    assert len(ledger.entries()) == 2
    ledger.close()
    with sqlite3.connect(path) as looked:
        tokens = [row[0] for row in looked.execute("SELECT token FROM groups ORDER BY id")]
    looked.close()
    assert tokens == [None, None, SLIP.token]
