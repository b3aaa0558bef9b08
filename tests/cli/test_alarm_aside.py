"""``cormwatch alarm shelve`` and the rest: putting an alarm aside by command."""

import json
from pathlib import Path
from typing import Any, Final

import pytest

from monitor.alarms import on_transition, wording
from monitor.cli import main
from monitor.clock import SystemClock
from monitor.farm import load
from monitor.model import (
    AlarmKey,
    AlarmKind,
    AlarmState,
    Edge,
    Notice,
    NoticeKind,
    NoticeStatus,
    Priority,
    Transition,
)
from monitor.store import Ledger
from tests.cli.small_farm import small_farm

Said = pytest.CaptureFixture[str]
WHY: Final = "fitting a new door seal"


@pytest.fixture
def farm(tmp_path: Path) -> Path:
    """Return a farm whose cooler is too warm, and a message about it that waits."""
    small_farm(tmp_path)
    (tmp_path / "data").mkdir()
    now_ms = SystemClock().now_ms()
    ledger = Ledger.open(tmp_path / "data" / "ledger.db")
    raised = Transition(
        AlarmKey(AlarmKind.TOO_WARM, "walk-in-cooler"), Edge.RAISE, now_ms, now_ms, Priority.HIGH,
        place="walk-in-cooler", value=8.0, limit=5.0, peak=8.0,
    )  # fmt: skip
    ledger.transact(raised.key, on_transition(raised, wording(load(tmp_path)), now_ms), now_ms)
    waits = Notice(
        0, 1, NoticeKind.RAISED, "ida", "1", "Walk-in cooler is too warm", "", now_ms,
        now_ms + 3_600_000,
    )  # fmt: skip
    ledger.add_notices([waits])
    ledger.close()
    return tmp_path


def _run(farm: Path, *words: str) -> int:
    return main(["alarm", *words, "--farm", str(farm)])


def _listed(farm: Path, capsys: Said) -> dict[str, Any]:
    capsys.readouterr()
    assert _run(farm, "list", "--json") == 0
    (alarm,) = json.loads(capsys.readouterr().out)
    return dict(alarm)


def test_a_shelved_alarm_says_until_when_and_why(farm: Path, capsys: Said) -> None:
    """The list tells the time, the reason and that it still holds; what waited is withdrawn."""
    assert _run(farm, "shelve", "1", "--for", "2h", "--why", WHY, "--by", "ida") == 0
    assert "quiet until" in capsys.readouterr().out
    told = _listed(farm, capsys)
    assert (told["state"], told["why"], told["active"]) == ("shelved", WHY, True)
    assert told["until_at"].endswith("Z")
    assert _run(farm, "list") == 0
    assert WHY in capsys.readouterr().out
    ledger = Ledger.open(farm / "data" / "ledger.db")
    assert [each.status for each in ledger.notices_of(1)] == [NoticeStatus.DROPPED]
    ledger.close()


def test_ended_by_hand_it_is_judged_afresh(farm: Path, capsys: Said) -> None:
    """What still holds is seen by whoever ended it, with each step in the audit."""
    assert _run(farm, "shelve", "1", "--for", "2h", "--why", WHY, "--by", "ida") == 0
    assert _run(farm, "unshelve", "1", "--by", "max") == 0
    assert _listed(farm, capsys)["state"] == AlarmState.ACKNOWLEDGED
    assert _run(farm, "show", "1", "--json") == 0
    told = json.loads(capsys.readouterr().out)
    assert [each["by"] for each in told["audit"]] == ["watch", "ida", "max"]
    assert told["rationale"]["response"]
    assert _run(farm, "show", "1") == 0
    assert WHY in capsys.readouterr().out


def test_out_of_service_has_no_end_of_its_own(farm: Path, capsys: Said) -> None:
    """Taken out of service it stays so until it is returned."""
    assert _run(farm, "rest", "1", "--why", WHY) == 0
    told = _listed(farm, capsys)
    assert (told["state"], told["until_at"]) == ("out_of_service", None)
    assert _run(farm, "return", "1") == 0
    assert _listed(farm, capsys)["state"] == AlarmState.ACKNOWLEDGED


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("shelve", "1", "--for", "365 d", "--why", WHY), "at most"),
        (("shelve", "1", "--for", "2h", "--why", "  "), "say why"),
        (("shelve", "1", "--for", "soon", "--why", WHY), "soon"),
        (("shelve", "9", "--for", "2h", "--why", WHY), "no alarm 9"),
        (("shelve", "1", "--for", "2h", "--why", "a\x1b[2J"), "reason"),
        (("show", "9"), "no alarm 9"),
    ],
)
def test_what_cannot_be_is_refused(
    farm: Path, capsys: Said, words: tuple[str, ...], said: str
) -> None:
    """A year, no reason, no time, no such alarm, no text: refused, and nothing changed."""
    assert _run(farm, *words) == 2
    assert said in capsys.readouterr().err
    assert _listed(farm, capsys)["state"] == AlarmState.UNACKNOWLEDGED
