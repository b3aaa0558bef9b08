"""Answers that are no answers: nothing is taken for copied, or for all there is, by them."""

import gzip
import json

import pytest

from monitor.errors import MirrorError
from monitor.mirror.querying import Query
from monitor.mirror.refusing import UnreachableError
from monitor.mirror.sending import Sender
from tests.mirror.answering import Answer, answering
from tests.store.making import AIR, T0_MS

WHOLE = json.dumps({"results": [{}] * 50}).encode()


def _page(*times: int, **more: bool) -> Answer:
    columns = ["time", "temperature_c", "temperature_flags"]
    series = {"columns": columns, "values": [[T0_MS + at, 4.5, None] for at in times], **more}
    return Answer(200, json.dumps({"results": [{"series": [series]}]}).encode())


def test_a_page_of_a_portal_has_taken_no_reading() -> None:
    """Who answers 200 with a page, as before somebody signs in, holds nothing that was sent."""
    with answering([Answer(200, b"<html>Accept our terms</html>")]) as mirror:
        sender = Sender(mirror)
        with pytest.raises(UnreachableError, match="answers 200 with a page"):
            sender(["climate v=1 1"])
        sender.close()


def test_a_write_that_is_taken_has_nothing_to_say() -> None:
    """204 is what such a server says."""
    with answering([Answer(204)]) as mirror:
        sender = Sender(mirror)
        sender(["climate v=1 1"])
        sender.close()


@pytest.mark.parametrize(
    "answer",
    [
        Answer(200, WHOLE[:40], {"Content-Length": str(len(WHOLE))}),
        Answer(200, gzip.compress(WHOLE)[:-12], {"Content-Encoding": "gzip"}),
        Answer(200, gzip.compress(WHOLE)[:12] + b"\xff" * 9, {"Content-Encoding": "gzip"}),
    ],
    ids=["cut", "cut within gzip", "overwritten gzip"],
)
def test_an_answer_that_is_cut_is_a_failure_of_the_line(answer: Answer) -> None:
    """What was read of it counts for nothing, and it is told in a sentence."""
    with answering([answer]) as mirror, pytest.raises(MirrorError, match="does not answer"):
        list(Query(mirror).pages(AIR))


def test_a_server_that_gives_fewer_rows_than_asked_for_is_asked_on() -> None:
    """The end is where no row comes: a server's own limit leaves no reading out."""
    told = [_page(0, 1, 2, partial=True), _page(3, 4, 5, partial=True), _page(6), _page()]
    with answering(told) as mirror:
        pages = list(Query(mirror, page=5).pages(AIR))
    assert [int(at) - T0_MS for page in pages for at in page.at_ms] == list(range(7))
