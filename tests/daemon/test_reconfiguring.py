"""A change of the farm's files, kept with who made it and why."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.daemon.reconfiguring import reconfigure
from monitor.errors import FarmError
from monitor.farm import load
from monitor.farm.altering import altered
from monitor.farm.editing import change_limits, set_rules
from monitor.farm.starting import Start, write_starter
from monitor.model import Quantity
from monitor.store import Ledger

NOW_MS = 1_795_600_000_000


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return the folder of a starter farm."""
    write_starter(tmp_path / "farm", Start(), {})
    return tmp_path / "farm"


@pytest.fixture
def ledger(tmp_path: Path, folder: Path) -> Iterator[Ledger]:
    """Return a ledger that has accepted the farm as it is."""
    ledger = Ledger.open(tmp_path / "ledger.db")
    farm = load(folder)
    ledger.accept_configuration(farm.texts, farm.digest, NOW_MS, "start")
    yield ledger
    ledger.close()


def test_a_change_is_kept_with_who_and_why(folder: Path, ledger: Ledger) -> None:
    """The list of changed limits names the person, the reason, the old and the new figure."""
    change = change_limits(
        "walk-in-cooler", Quantity.TEMPERATURE, {"harm.high": "43 F"}, {}, "set by Ida: old seal"
    )
    farm = reconfigure(folder, ledger, [change], by="Ida", why="the seal is old", now_ms=NOW_MS + 1)
    assert load(folder).digest == farm.digest == ledger.configurations()[-1].digest
    (told,) = altered(ledger.configurations())
    assert told.by == "Ida: the seal is old"
    assert (told.limit.subject, told.limit.name) == ("Walk-in cooler", "harm above")
    assert told.before == pytest.approx(10 / 1.8)
    assert told.after == pytest.approx(11 / 1.8)


def test_a_refused_change_is_not_kept(folder: Path, ledger: Ledger) -> None:
    """What does not fit is neither written nor accepted."""
    with pytest.raises(FarmError, match="quiet_from"):
        reconfigure(
            folder, ledger, [set_rules({"quiet_from": "late"})], by="Ida", why="", now_ms=NOW_MS
        )
    assert len(ledger.configurations()) == 1
