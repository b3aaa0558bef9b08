"""Which messages are recognised as sent again."""

import zlib

from monitor.mqtt.redelivery import KEPT, Window, checksum
from tests.mqtt.fakes import message


def test_the_checksum_covers_topic_and_payload() -> None:
    """It is the CRC-32 of zlib over both."""
    assert checksum(message(payload=b"4.1")) == zlib.crc32(b"shed/t4.1")


def test_a_redelivery_of_a_committed_message_is_recognised() -> None:
    """Same id, same checksum, flagged, in a kept session: it is stored already."""
    window = Window([(7, checksum(message(7)))])
    assert window.seen(message(7, duplicate=True, resumed=True))


def test_each_part_of_the_mark_is_needed() -> None:
    """Another id, other bytes, no flag or no kept session: news."""
    kept = [(7, checksum(message(7)))]
    assert not Window(kept).seen(message(8, duplicate=True, resumed=True))
    assert not Window(kept).seen(message(7, b"4.2", duplicate=True, resumed=True))
    assert not Window(kept).seen(message(7, duplicate=False, resumed=True))
    assert not Window(kept).seen(message(7, duplicate=True, resumed=False))


def test_an_absent_session_empties_the_window() -> None:
    """A broker without our session begins its ids anew: earlier pairs are void."""
    window = Window([(7, checksum(message(7)))])
    assert not window.seen(message(1, connection=1, resumed=False))
    assert window.changes() == ([(1, checksum(message(1)))], True)
    window.keep()
    assert not window.seen(message(7, connection=2, resumed=True, duplicate=True))


def test_a_redelivery_within_one_commit_is_recognised() -> None:
    """A message of a lost connection and its redelivery may wait in one pack."""
    window = Window()
    assert not window.seen(message(7, connection=1, resumed=True))
    assert window.seen(message(7, connection=2, resumed=True, duplicate=True))
    assert len(window.changes()[0]) == 1


def test_a_commit_given_up_leaves_its_messages_as_news() -> None:
    """What was never stored is stored when it comes again."""
    window = Window()
    window.seen(message(7, resumed=True))
    window.forget()
    assert not window.seen(message(7, duplicate=True, resumed=True))


def test_an_id_used_again_counts_for_its_newest_message() -> None:
    """Ids begin anew after 65,535 messages: the latest pair of an id stands."""
    window = Window([(7, checksum(message(7)))])
    window.seen(message(7, b"4.2", resumed=True))
    window.keep()
    assert not window.seen(message(7, duplicate=True, resumed=True))
    window.forget()
    assert window.seen(message(7, b"4.2", duplicate=True, resumed=True))


def test_the_window_stays_bounded() -> None:
    """Only the newest few thousand pairs are held."""
    window = Window()
    for number in range(1, KEPT + 100):
        window.seen(message(number, resumed=True))
    window.keep()
    assert len(window) == KEPT
    assert not window.seen(message(1, duplicate=True, resumed=True))
    assert window.seen(message(KEPT + 50, duplicate=True, resumed=True))
