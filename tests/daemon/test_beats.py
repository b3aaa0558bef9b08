"""What a second watcher makes of heartbeats, of silence, and of its own clock."""

from dataclasses import replace

from pydantic import SecretStr

from monitor.daemon.beats import Beats, begun, heard, judged, said, stepped
from monitor.farm import Second
from monitor.model import Edge

NOW_MS = 1_795_600_000_000
MINUTE_MS = 60_000
SECOND = Second("The house on the hill", "127.0.0.1", 8585, SecretStr("word"))
BODY = {"farm": "Low Meadow", "places": ["Walk-in cooler 37.9 °F, about 640 stems"]}


def test_nothing_for_the_grace_is_told_once_from_the_last_heartbeat_on() -> None:
    """At ten minutes, not before, and not again; it began when it was last heard."""
    beats = heard(begun(NOW_MS, None, None), BODY, NOW_MS)
    beats, told = judged(beats, SECOND, NOW_MS + 10 * MINUTE_MS - 1)
    assert told is None
    beats, told = judged(beats, SECOND, NOW_MS + 10 * MINUTE_MS)
    assert told is not None
    assert (told.edge, told.began_ms) == (Edge.RAISE, NOW_MS)
    assert told.facts["last"] == "Walk-in cooler 37.9 °F, about 640 stems"
    assert judged(beats, SECOND, NOW_MS + 60 * MINUTE_MS)[1] is None


def test_the_first_heartbeat_after_it_clears() -> None:
    """One heartbeat ends the dark, and a later silence is a new one."""
    beats, _ = judged(begun(NOW_MS, None, None), SECOND, NOW_MS + 10 * MINUTE_MS)
    back_ms = NOW_MS + 25 * MINUTE_MS
    beats, told = judged(heard(beats, BODY, back_ms), SECOND, back_ms)
    assert told is not None
    assert (told.edge, told.began_ms) == (Edge.RETURN, NOW_MS)
    _, told = judged(beats, SECOND, back_ms + 10 * MINUTE_MS)
    assert told is not None
    assert told.edge is Edge.RAISE


def test_a_start_in_the_dark_waits_the_grace_from_the_start() -> None:
    """A watcher that was down for a day itself does not call the farm dark at once."""
    kept = {"heard_ms": NOW_MS - 1440 * MINUTE_MS, "last": "Walk-in cooler 37.9 °F"}
    beats = begun(NOW_MS, kept, None)
    assert judged(beats, SECOND, NOW_MS + 9 * MINUTE_MS)[1] is None
    _, told = judged(beats, SECOND, NOW_MS + 10 * MINUTE_MS)
    assert told is not None
    assert told.began_ms == NOW_MS - 1440 * MINUTE_MS


def test_what_was_told_before_a_restart_is_not_told_again() -> None:
    """An open alarm in the ledger is remembered, and cleared by the next heartbeat."""
    kept = {"heard_ms": NOW_MS - 30 * MINUTE_MS, "last": ""}
    beats = begun(NOW_MS, kept, NOW_MS - 30 * MINUTE_MS)
    assert judged(beats, SECOND, NOW_MS + 60 * MINUTE_MS)[1] is None
    later_ms = NOW_MS + 61 * MINUTE_MS
    _, told = judged(heard(beats, BODY, later_ms), SECOND, later_ms)
    assert told is not None
    assert told.edge is Edge.RETURN


def test_a_step_of_the_clock_makes_no_farm_dark_and_hides_none() -> None:
    """A jump of a day to either side changes no waiting time."""
    for day_ms in (86_400_000, -86_400_000):
        beats = stepped(heard(begun(NOW_MS, None, None), BODY, NOW_MS), day_ms)
        now_ms = NOW_MS + day_ms
        assert judged(beats, SECOND, now_ms + 9 * MINUTE_MS)[1] is None
        assert judged(beats, SECOND, now_ms + 10 * MINUTE_MS)[1] is not None


def test_a_heartbeat_of_the_future_counts_as_one_of_now() -> None:
    """A clock that was set back while we were down holds back no alarm for a year."""
    beats = begun(NOW_MS, {"heard_ms": NOW_MS + 365 * 1440 * MINUTE_MS}, None)
    assert judged(beats, SECOND, NOW_MS + 10 * MINUTE_MS)[1] is not None


def test_a_restart_needs_only_what_is_kept() -> None:
    """What is kept gives back when and what was last heard."""
    beats = heard(begun(NOW_MS, None, None), BODY, NOW_MS + 5)
    assert begun(NOW_MS + 9, beats.kept(), None) == replace(beats, since_ms=NOW_MS + 9)


def test_a_summary_is_short_and_printable_whatever_came() -> None:
    """Whoever holds the secret still fills no phone and slips in no second line."""
    assert said({"places": "none", "alarms": 7}) == ""
    assert said({"places": ["Cooler\n37.9 °F", 4, None], "alarms": ["Too warm."]}) == (
        "Cooler37.9 °F; open: Too warm"
    )
    assert len(said({"places": ["x" * 1000] * 100})) < 1000
    assert Beats(NOW_MS).kept() == {"heard_ms": None, "last": ""}
