"""The fence and the proof of hearing."""

import pytest

from monitor.mqtt.hearing import Hearing, Hears


@pytest.fixture
def hearing() -> Hearing:
    """Return the hearing of connection 3: a message every 30 s, deaf after 10 s."""
    return Hearing("now", 3, 30.0, 10.0)


def test_the_fence_is_passed_by_our_own_message_of_this_connection(hearing: Hearing) -> None:
    """Our message, come back, separates what was queued from what is new."""
    hearing.came(hearing.send(0.0, 0))
    assert hearing.passed


@pytest.mark.parametrize("payload", [b"before:3:1", b"now:2:1", b"now:33:1", b"", b"\xff:3:1"])
def test_a_message_of_another_connection_or_process_is_no_fence(
    hearing: Hearing, payload: bytes
) -> None:
    """What the broker still held from before proves nothing about now."""
    hearing.send(0.0, 0)
    hearing.came(payload)
    assert not hearing.passed


def test_silence_after_our_message_is_deafness(hearing: Hearing) -> None:
    """Not even our own message within the time: deaf."""
    hearing.send(0.0, received=5)
    assert hearing.verdict(9.9, received=5, outstanding=0) is Hears.WAITING
    assert hearing.verdict(10.0, received=5, outstanding=0) is Hears.DEAF


def test_a_backlog_before_our_message_is_no_deafness(hearing: Hearing) -> None:
    """While messages wait for their acknowledgement, ours may stand behind them."""
    hearing.send(0.0, received=5)
    assert hearing.verdict(60.0, received=900, outstanding=400) is Hears.WAITING
    assert hearing.verdict(60.0, received=5, outstanding=5) is Hears.WAITING


def test_time_in_which_nothing_is_read_does_not_count(hearing: Hearing) -> None:
    """Ours may wait unread: the time for it begins anew when reading goes on."""
    hearing.send(0.0, received=5)
    hearing.not_reading(60.0)
    assert hearing.verdict(69.9, received=5, outstanding=0) is Hears.WAITING
    assert hearing.verdict(70.0, received=5, outstanding=0) is Hears.DEAF


def test_others_heard_and_ours_missing_is_mute(hearing: Hearing) -> None:
    """A broker that delivers others' messages and not ours is told, not reconnected to."""
    hearing.send(0.0, received=5)
    assert hearing.verdict(10.0, received=6, outstanding=0) is Hears.MUTE


def test_the_answer_to_an_earlier_message_does_not_prove_hearing_now(hearing: Hearing) -> None:
    """Each message to ourselves asks anew."""
    first = hearing.send(0.0, 0)
    hearing.came(first)
    assert hearing.verdict(1.0, 1, 0) is Hears.YES
    assert hearing.due_at_s() == pytest.approx(30.0)
    hearing.send(30.0, 1)
    hearing.came(first)
    assert hearing.verdict(40.0, 1, 0) is Hears.DEAF
