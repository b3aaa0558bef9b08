"""What a drill prints while the running monitor has not sent it."""

from contextlib import closing
from pathlib import Path

import pytest

from monitor.cli.drilling import by_the_monitor
from monitor.cli.opening import open_ledger
from monitor.errors import NoticeError
from monitor.model import Notice, NoticeKind
from monitor.store import Ledger
from tests.farm.folders import new_folder

TEST = Notice(0, None, NoticeKind.DRILL, "robin", "1", "TEST", "A test.", 0, 0)


def test_a_drill_that_nobody_takes_fails(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What still waits when the time is over is told as not sent, and fails."""
    farm = new_folder(tmp_path).load()
    with pytest.raises(NoticeError, match="1 of 1 addresses"):
        by_the_monitor(farm, [TEST], within_s=0.0)
    assert "the monitor has not come to it" in capsys.readouterr().out


def test_a_failed_try_is_told_with_its_reason(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A try that failed is told once with its reason, and that there will be another."""
    farm = new_folder(tmp_path).load()
    added = Ledger.add_notices

    def tried(ledger: Ledger, notices: list[Notice]) -> tuple[Notice, ...]:
        rows = added(ledger, notices)
        for row in rows:
            ledger.record_attempt(row.id, 1, sent=False, error="no route", retry_at_ms=60_000)
        return rows

    monkeypatch.setattr(Ledger, "add_notices", tried)
    with pytest.raises(NoticeError):
        by_the_monitor(farm, [TEST], within_s=0.0)
    said = capsys.readouterr().out
    assert said == "Robin, address 1: NOT SENT yet: no route; the monitor will try again\n"
    with closing(open_ledger(farm)) as ledger:
        assert len(ledger.notices()) == 1
