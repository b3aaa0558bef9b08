"""The heartbeat that goes out: one for each turn of the watch that is due, and none without.

Nothing beats by itself. The watching loop calls ``turned`` at the end of each turn that has
judged and written; a loop that hangs, or a ledger that cannot be written, is silent, and a
second watcher elsewhere then tells the people. A try has a deadline, and blocks nothing.
"""

import hashlib
import logging
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from monitor.clock import Clock, monotonic_s
from monitor.daemon.judge import Judge
from monitor.daemon.posting import DEADLINE_S, Post, Try, post
from monitor.daemon.summary import heartbeat_body
from monitor.errors import StoreError
from monitor.farm import Watcher

log = logging.getLogger("cormwatch")

_PROVED: Final = "heartbeat_proved"
NOBODY: Final = (
    "A power cut in the barn would tell nobody: no second watcher is set up "
    "(README, “A second watcher”)."
)
UNPROVED: Final = (
    "A power cut in the barn would tell nobody yet: no heartbeat has reached the second watcher."
)


@dataclass
class Heartbeat:
    """Sends what is due and remembers what came of it; ``publish`` says it to the broker too."""

    judge: Judge
    clock: Clock
    publish: Callable[[Mapping[str, Any]], None] = lambda _body: None
    send: Post = post
    monotonic_s: Callable[[], float] = monotonic_s
    failing_since_ms: int | None = None
    error: str = ""
    sent: int = 0
    failed: int = 0
    _due_s: float = float("-inf")
    _try: Try | None = None
    _began_s: float = 0.0
    _proved: set[str] = field(default_factory=set)

    def __post_init__(self) -> None:
        found = self.judge.ledger.get(_PROVED)
        self._proved.update(found if isinstance(found, list) else [])

    def turned(self) -> None:
        """Note that the watch has turned; beat where that is due and alarms can be written."""
        self._look()
        if self.judge.stuck or self.monotonic_s() < self._due_s or self._try is not None:
            return
        watcher = self.judge.farm.watcher
        self._due_s = self.monotonic_s() + self.clock.real_seconds(watcher.every_s)
        now_ms = self.clock.now_ms()
        self.publish(heartbeat_body(self.judge, now_ms, summary=False))
        if watcher.heartbeat_url is None:
            self.failing_since_ms, self.error = None, ""
            return
        body = heartbeat_body(self.judge, now_ms, summary=watcher.secret is not None)
        self._began_s = self.monotonic_s()
        self._try = self.send(watcher, body)

    def _look(self) -> None:
        """Take what came of the try under way; past its deadline it has failed."""
        flight = self._try
        if flight is None:
            return
        error = flight.result
        if error is None and self.monotonic_s() - self._began_s > DEADLINE_S:
            error = f"no answer within {DEADLINE_S:g} s"
        if error is None:
            return
        self._try = None
        if error:
            self._fail(error)
        else:
            self._succeed()

    def _fail(self, error: str) -> None:
        self.failed += 1
        if self.failing_since_ms is None:
            self.failing_since_ms = self.clock.now_ms()
        if error != self.error:
            log.warning("the heartbeat does not arrive: %s", error)
        self.error = error

    def _succeed(self) -> None:
        self.sent += 1
        self.failing_since_ms, self.error = None, ""
        mark = _mark(self.judge.farm.watcher)
        if mark in self._proved:
            return
        try:
            self.judge.ledger.put(_PROVED, [mark])
        except StoreError as failure:
            log.warning("the first heartbeat is not noted: %s", failure)
            return
        self._proved = {mark}

    def troubles(self) -> list[str]:
        """Return in sentences what stands between a power cut and anybody knowing of it."""
        watcher = self.judge.farm.watcher
        if watcher.heartbeat_url is None:
            return [NOBODY]
        told = [] if _mark(watcher) in self._proved else [UNPROVED]
        if self.failing_since_ms is not None:
            since = self.judge.words.time(self.failing_since_ms, self.clock.now_ms())
            told.append(f"The heartbeat has not arrived since {since}: {self.error}.")
        return told


def _mark(watcher: Watcher) -> str:
    """Return what tells one address from another without holding it."""
    url = watcher.heartbeat_url
    return "" if url is None else hashlib.sha256(url.get_secret_value().encode()).hexdigest()[:16]
