"""When a session is called unstable."""

from monitor.mqtt.settings import SessionSettings
from monitor.mqtt.status import Stability


def test_three_takeovers_within_two_minutes_are_told_once() -> None:
    """Two clients with one id: one message, not one for each eviction."""
    stability = Stability()
    told = [stability.ended(10.0 * n, 10.0, taken_over=True) for n in range(8)]
    assert told == [False, False, True, False, False, False, False, False]


def test_a_connection_that_lived_ends_the_spell() -> None:
    """After a connection of some length the next spell is told again."""
    stability = Stability()
    for n in range(3):
        stability.ended(float(n), 1.0, taken_over=True)
    assert not stability.ended(600.0, 590.0, taken_over=False)
    assert [stability.ended(601.0 + n, 1.0, taken_over=False) for n in range(3)][-1]


def test_rare_ends_are_no_spell() -> None:
    """One short connection an hour is no rivalry."""
    stability = Stability()
    assert not any(stability.ended(3600.0 * n, 1.0, taken_over=False) for n in range(9))


def test_the_password_is_not_shown() -> None:
    """A secret stands in no output."""
    settings = SessionSettings("localhost", 1883, "farm", password="swordfish")  # noqa: S106
    assert "swordfish" not in repr(settings)
