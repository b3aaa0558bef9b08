"""A refused batch is halved until each bad point stands alone; what an answer means."""

from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.mirror.refusing import RefusedError, UnreachableError, meaning
from monitor.mirror.settling import settle
from monitor.mirror.waiting import LONGEST_ASKED_S, Waits


class Server:
    """Takes lines but those that are bad; after ``last`` requests nothing any more."""

    def __init__(self, bad: set[str], *, says_point: bool = True, last: int = 10**6) -> None:
        self.bad = bad
        self.says_point = says_point
        self.left = last
        self.taken: set[str] = set()

    def __call__(self, lines: Sequence[str]) -> None:
        """Take all of it or nothing."""
        self.left -= 1
        if self.left < 0:
            raise UnreachableError("no answer")
        if self.bad & set(lines):
            raise RefusedError("bad", of_point=self.says_point)
        self.taken |= set(lines)


@given(st.integers(0, 60), st.sets(st.integers(0, 59)), st.integers(0, 200), st.booleans())
def test_what_is_settled_is_taken_or_refused_one_by_one(
    n: int, bad: set[int], last: int, clear: bool
) -> None:
    """Whenever the server goes away: each line up to ``done`` is there or set aside, not both."""
    lines = [str(at) for at in range(n)]
    server = Server({str(at) for at in bad}, says_point=clear, last=last)
    found = settle(lines, server)
    refused = {at for at, _ in found.refused}
    settled = set(range(found.done))
    assert refused == settled & bad
    assert {str(at) for at in settled - bad} <= server.taken
    if found.failure is None:
        assert found.done == n


def test_a_server_that_refuses_everything_unexplained_has_no_bad_points() -> None:
    """Nothing is set aside: it is an outage, and says why."""
    found = settle(["a", "b", "c"], Server({"a", "b", "c"}, says_point=False))
    assert (found.done, found.refused) == (0, [])
    assert "refuses everything: bad" in str(found.failure)


def test_a_batch_of_bad_points_is_worked_off_in_bounded_steps() -> None:
    """One batch spends so many requests at most, and the rest comes with the next."""
    lines = [str(at) for at in range(500)]
    server = Server(set(lines))
    found = settle(lines, server, most=100)
    assert 10**6 - server.left == 100
    assert 0 < found.done == len(found.refused) < 100
    assert found.failure is None


@pytest.mark.parametrize(
    ("status", "text", "kind"),
    [
        (400, 'partial write: field type conflict: input field "x" … dropped=1', "point"),
        (400, "unable to parse 'm 1': missing fields", "point"),
        (400, "partial write: points beyond retention policy dropped=1", "point"),
        (400, "database is required", "unclear"),
        (413, "", "unclear"),
        (400, "partial write: max-series-per-database limit exceeded: dropped=3", "out"),
        (401, "unauthorized", "out"),
        (404, 'database not found: "farms"', "out"),
        (429, "", "out"),
        (502, "<html>", "out"),
        (503, "", "out"),
    ],
)
def test_only_answers_about_a_point_set_points_aside(status: int, text: str, kind: str) -> None:
    """Texts as InfluxDB 1.6 and nginx give them (seen), codes as HTTP means them (RFC 9110)."""
    found = meaning(status, text)
    if kind == "out":
        assert isinstance(found, UnreachableError)
    else:
        assert isinstance(found, RefusedError)
        assert found.of_point is (kind == "point")


def test_a_wait_that_is_asked_for_is_kept_within_reason() -> None:
    """Retry-After in seconds (RFC 9110, 10.2.3) lengthens the wait, up to a quarter of an hour."""
    found = meaning(503, "", "40")
    assert isinstance(found, UnreachableError)
    assert found.after_s == 40.0
    waits = Waits((2.0,), dice=lambda: 1.0)
    assert waits.after_failure(40.0) == 40.0
    assert waits.after_failure(1e6) == LONGEST_ASKED_S


def test_waits_grow_with_jitter_and_end_with_a_success() -> None:
    """Half to all of each step, the last again and again, the first after a success."""
    for dice, share in ((lambda: 0.0, 0.5), (lambda: 1.0, 1.0)):
        waits = Waits((2.0, 8.0, 30.0), dice)
        assert [waits.after_failure() for _ in range(4)] == [
            2.0 * share, 8.0 * share, 30.0 * share, 30.0 * share,
        ]  # fmt: skip
        waits.over()
        assert waits.after_failure() == 2.0 * share
