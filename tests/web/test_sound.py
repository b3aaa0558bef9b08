"""What pages and JSON say can always be sent."""

from monitor.web.sound import sound, whole


def test_half_a_character_takes_no_answer_down() -> None:
    """An old row with a half character is answered with a question mark in its place."""
    told = sound([{"cultivar": "A\udcffB"}])
    assert told == [{"cultivar": "A?B"}]
    assert whole("Café \ud800").encode() == "Café ?".encode()
