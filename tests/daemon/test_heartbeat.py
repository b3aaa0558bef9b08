"""A heartbeat goes out with a turn of the watch that is due, and tells what it cannot do."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from threading import Event, Thread
from typing import Any

import pytest
from pydantic import SecretStr

from monitor.daemon.heartbeat import NOBODY, UNPROVED, Heartbeat
from monitor.daemon.posting import DEADLINE_S, Try, post
from monitor.farm import Watcher
from tests.daemon.made import Post, farm, readings

URL = SecretStr("https://hill.example.org/beat")


@dataclass
class Line:
    """Takes heartbeats, and answers as it is told to; ``at_s`` is real time by hand."""

    answer: str | None = ""
    at_s: float = 0.0
    bodies: list[Mapping[str, Any]] = field(default_factory=list)

    def __call__(self, _watcher: Watcher, body: Mapping[str, Any]) -> Try:
        """Take one."""
        self.bodies.append(body)
        return Try(self.answer)

    def now_s(self) -> float:
        """Return the time. [s]"""
        return self.at_s


@pytest.fixture
def wired(tmp_path: Path) -> Iterator[Post]:
    """Yield a post whose farm has a second watcher of its own."""
    watcher = Watcher(heartbeat_url=URL, secret=SecretStr("a long word"))
    post_ = Post(replace(farm(tmp_path), watcher=watcher))
    yield post_
    post_.close()


def _heart(post_: Post, line: Line) -> Heartbeat:
    return Heartbeat(post_.judge, post_.clock, send=line, monotonic_s=line.now_s)


def test_it_beats_with_the_turns_once_a_minute(wired: Post) -> None:
    """No turn, no heartbeat; many turns, one a minute."""
    line = Line()
    heart = _heart(wired, line)
    assert line.bodies == []
    for second in range(121):
        line.at_s = float(second)
        heart.turned()
    assert len(line.bodies) == 3
    assert heart.troubles() == []


def test_it_is_silent_while_alarms_cannot_be_written(wired: Post) -> None:
    """A monitor that could tell nobody does not say that all is well."""
    line = Line()
    heart = _heart(wired, line)
    wired.judge.stuck = "the disk is full"
    heart.turned()
    assert line.bodies == []
    wired.judge.stuck = ""
    heart.turned()
    assert len(line.bodies) == 1


def test_it_says_how_the_places_stand_to_our_own_watcher_only(wired: Post) -> None:
    """Places and alarms go to who holds the farm's secret; another address hears the least."""
    wired.hear(readings(range(10), 3.0))
    line = Line()
    _heart(wired, line).turned()
    (body,) = line.bodies
    assert body["farm"] == wired.farm.name
    assert any("37.4 °F" in each for each in body["places"])  # 3.0 °C
    wired.judge.farm = replace(wired.farm, watcher=Watcher(heartbeat_url=URL))
    _heart(wired, line).turned()
    assert set(line.bodies[-1]) == {"at", "farm", "worst"}


def test_until_one_has_arrived_a_power_cut_would_tell_nobody(wired: Post) -> None:
    """No address, or no success yet, is said; a success is remembered by the next start."""
    line = Line(answer="the answer was 401")
    heart = _heart(wired, line)
    assert heart.troubles() == [UNPROVED]
    heart.turned()
    heart.turned()
    assert heart.troubles()[1].endswith("the answer was 401.")
    line.answer, line.at_s = "", 61.0
    heart.turned()
    heart.turned()
    assert heart.troubles() == []
    assert _heart(wired, Line()).troubles() == []
    wired.judge.farm = replace(wired.farm, watcher=Watcher())
    assert heart.troubles() == [NOBODY]


def test_a_try_without_an_answer_has_a_deadline(wired: Post) -> None:
    """A server that never answers is a failure after the deadline, and the next try goes."""
    line = Line(answer=None)
    heart = _heart(wired, line)
    heart.turned()
    line.at_s = DEADLINE_S + 1
    heart.turned()
    assert heart.failed == 1
    assert "no answer within 10 s" in heart.troubles()[1]
    line.at_s = 61.0
    heart.turned()
    assert len(line.bodies) == 2


def test_the_farms_own_secret_goes_to_no_other_address() -> None:
    """A redirection is refused, and what is said of it holds no address."""
    asked: list[str] = []
    done = Event()

    class Elsewhere(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            asked.append(self.path)
            self.send_response(302)
            self.send_header("Location", "/elsewhere")
            self.end_headers()
            done.set()

        def log_message(self, *_: object) -> None:
            """Print nothing."""

    with HTTPServer(("127.0.0.1", 0), Elsewhere) as server:
        running = Thread(target=server.serve_forever)
        running.start()
        url = SecretStr(f"http://127.0.0.1:{server.server_port}/beat-s3cr3t")
        flight = post(Watcher(heartbeat_url=url, secret=SecretStr("word")), {"farm": "Low Meadow"})
        assert done.wait(5)
        while flight.result is None:
            done.wait(0.01)
        server.shutdown()
        running.join()
    assert flight.result == "the answer was 302"
    assert asked == ["/beat-s3cr3t"]


def test_nobody_there_is_said_without_the_address() -> None:
    """A refused connection is told in a few words."""
    flight = post(Watcher(heartbeat_url=SecretStr("http://127.0.0.1:9/s3cr3t")), {})
    for _ in range(500):
        if flight.result is None:
            Event().wait(0.01)
    assert flight.result == "Connection refused"
