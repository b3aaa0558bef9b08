"""The soak in short: some of all that can go wrong, within half a minute."""

import pytest

from tests.system.soak.running import soak

pytestmark = pytest.mark.system


@pytest.mark.timeout(900)
def test_through_kills_cuts_a_full_disk_and_a_set_clock_nothing_is_lost() -> None:
    """Every reading is stored once, every spell told and cleared once, every notice mailed.

    The long form, with all kinds of trouble, is ``python -m tests.benchmarks.soak``.
    """
    outcome = soak(
        3,
        0.0,
        ("killed", "broker killed", "cut", "killed on a full disk", "booted in another time"),
        sensors=20,
        rate=40.0,
    )
    assert outcome.faults == []
    assert outcome.kept.once > 100
    assert outcome.spells > 0
    assert outcome.mails > 0
