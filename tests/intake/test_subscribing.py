"""Topic filters that never overlap."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from paho.mqtt.client import topic_matches_sub

from monitor.intake import covers, subscriptions
from tests.intake.made import T

_FILTERS = st.lists(st.sampled_from(["a", "b", "+"]), min_size=1, max_size=3).map("/".join)
_WIDE = _FILTERS | _FILTERS.map(lambda text: text + "/#") | st.just("#")
_TOPICS = st.lists(st.sampled_from(["a", "b", "c"]), min_size=1, max_size=4).map("/".join)


def test_everything_covers_each_topic_but_the_brokers_own() -> None:
    """``#`` takes all topics in, save those that begin with ``$`` (MQTT 5.0, 4.7.2)."""
    sensors = [replace(T, topic="barn/x"), replace(T, topic="$lab/x")]
    assert subscriptions(["#"], sensors) == ["#", "$lab/x"]


def test_a_topic_outside_the_filters_is_added_by_itself() -> None:
    """A sensor is heard whether or not the farm listens to its branch."""
    assert subscriptions(["barn/#"], [T, replace(T, topic="tunnel/1")]) == ["barn/#", "tunnel/1"]


def test_filters_that_cross_are_widened_to_one() -> None:
    """Where two filters share topics and neither covers the other, one that covers both."""
    assert subscriptions(["a/+", "+/b"], []) == ["+/+"]


@pytest.mark.parametrize(
    ("wide", "narrow", "holds"),
    [
        ("#", "a/b", True),
        ("a/#", "a", True),
        ("a/+", "a/b", True),
        ("a/+", "a/#", False),
        ("a/b", "a/+", False),
        ("+/b", "$x/b", False),
    ],
)
def test_covering(wide: str, narrow: str, *, holds: bool) -> None:
    """Wildcards cover as MQTT 5.0, 4.7.1 says."""
    assert covers(wide, narrow) is holds


@given(st.lists(_WIDE, max_size=4), st.lists(_TOPICS, max_size=3), _TOPICS)
def test_no_topic_is_met_by_two_filters_and_none_is_missed(
    listen: list[str], topics: list[str], other: str
) -> None:
    """By paho's own matching, each wanted topic meets exactly one filter, others at most one."""
    chosen = subscriptions(listen, [replace(T, topic=topic) for topic in topics])
    for topic in [*topics, other]:
        met = sum(topic_matches_sub(each, topic) for each in chosen)
        wanted = topic in topics or any(topic_matches_sub(each, topic) for each in listen)
        assert met == 1 if wanted else met <= 1
