"""Night drills: who was woken, when that counts, and who has not been for long."""

import pytest
from pydantic import SecretStr

from monitor.errors import LedgerRuleError
from monitor.farm import Person
from monitor.notices import drills

NOW_MS = 1_795_600_000_000
DAY_MS = 86_400_000
ROBIN = Person("robin", "Robin", (SecretStr("json://one"),))
WREN = Person("wren", "Wren")


def test_ten_minutes_count_and_eleven_do_not() -> None:
    """Within ten minutes it is written down; later it is refused with the reason."""
    sent = drills.begun(None, ["robin"], NOW_MS)
    assert drills.woken(sent, ROBIN, NOW_MS + 600_000)["woken"] == {"robin": NOW_MS + 600_000}
    with pytest.raises(LedgerRuleError, match="11 minutes ago"):
        drills.woken(sent, ROBIN, NOW_MS + 660_000)


def test_nobody_is_woken_by_a_drill_that_was_not_sent() -> None:
    """Without a drill, or before it by a clock that was set back, nothing is recorded."""
    with pytest.raises(LedgerRuleError, match="no night drill has gone to Robin"):
        drills.woken(None, ROBIN, NOW_MS)
    with pytest.raises(LedgerRuleError):
        drills.woken(drills.begun(None, ["robin"], NOW_MS), ROBIN, NOW_MS - 1)


def test_thirty_days_without_being_woken_are_told() -> None:
    """From the thirtieth day on, by name and with the days; who has no address is left out."""
    people = {each.id: each for each in (ROBIN, WREN)}
    kept = drills.woken(drills.begun(None, ["robin"], NOW_MS), ROBIN, NOW_MS)
    assert drills.untested(kept, people, NOW_MS + 30 * DAY_MS - 1) == []
    told = drills.untested(kept, people, NOW_MS + 34 * DAY_MS)
    assert [each.partition(":")[0] for each in told] == ["No drill has woken Robin for 34 days"]


def test_a_new_farm_has_thirty_days_for_its_first_drill() -> None:
    """It is told that none has been, thirty days after the first start."""
    kept = drills.watched_since(None, NOW_MS)
    assert kept is not None
    assert drills.watched_since(kept, NOW_MS + 5) is None
    people = {"robin": ROBIN}
    assert drills.untested(None, people, NOW_MS + 90 * DAY_MS) == []
    assert drills.untested(kept, people, NOW_MS + 29 * DAY_MS) == []
    told = drills.untested(kept, people, NOW_MS + 30 * DAY_MS)
    assert [each.partition(":")[0] for each in told] == ["No drill has woken Robin yet"]


def test_a_second_drill_forgets_nobody() -> None:
    """A drill to one person leaves what is known of the others."""
    kept = drills.begun(drills.begun(None, ["robin", "wren"], NOW_MS), ["wren"], NOW_MS + 5)
    assert kept["sent"] == {"robin": NOW_MS, "wren": NOW_MS + 5}
