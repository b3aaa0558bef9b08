"""``cormwatch place limit``: written with who and why; refused if dangerous or no limit."""

from pathlib import Path

import pytest

from monitor.cli import main
from monitor.farm import load
from monitor.farm.starting import Start, write_starter
from monitor.model import Quantity
from monitor.store import Ledger

Said = pytest.CaptureFixture[str]


@pytest.fixture
def farm(tmp_path: Path) -> Path:
    """Return the starter farm."""
    write_starter(tmp_path / "farm", Start(), {})
    return tmp_path / "farm"


def _limit(farm: Path, *words: str) -> int:
    said = ["--why", "old seal", "--by", "Ida", "--farm", str(farm)]
    return main(["place", "limit", "walk-in cooler", "temperature", *words, *said])


def test_limits_are_written_with_who_and_why(farm: Path, capsys: Said) -> None:
    """Several at once; the kept configuration and the limit itself name the person and reason."""
    assert _limit(farm, "harm.high=43F", "tolerated.high=50 min") == 0
    assert "Walk-in cooler, temperature harm.high: 42 F -> 43 F" in capsys.readouterr().out
    harm = load(farm).places["walk-in-cooler"].bands[Quantity.TEMPERATURE].harm
    assert harm is not None
    assert harm.high == pytest.approx(11 / 1.8)
    assert harm.tolerated_high_s == pytest.approx(3000.0)
    assert harm.source == "set by Ida: old seal"
    ledger = Ledger.open(farm / "data" / "ledger.db")
    assert ledger.configurations()[-1].by == "Ida: Walk-in cooler: old seal"
    ledger.close()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("harm.high=warm",), "is no temperature"),
        (("harm.up=43F",), "changes nothing"),
        (("harm.high",), "changes nothing"),
        (("harm.high=30F",), "30 F is not above 33 F"),
        (("harm.low=20F",), "may be frozen before it is 20 F"),
        (("harm.high=none",), "nobody is told if it is too warm"),
        (("tolerated=none",), "is no length of time"),
    ],
)
def test_what_is_no_limit_or_dangerous_is_refused(
    farm: Path, capsys: Said, words: tuple[str, ...], said: str
) -> None:
    """Exit code 2, and the files stay as they were."""
    before = load(farm).digest
    assert _limit(farm, *words) == 2
    assert said in capsys.readouterr().err
    assert load(farm).digest == before


def test_what_is_dangerous_can_be_said_twice(farm: Path, capsys: Said) -> None:
    """With ``--sure`` it is written, and its consequence is printed."""
    assert _limit(farm, "harm.low=20F", "--sure") == 0
    assert "may be frozen" in capsys.readouterr().err
