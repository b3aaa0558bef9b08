"""Who is signed in: sessions by the hash of their ids, kept over a restart.

A session ends a week after its last use and thirty days after it began: long, because a
sign-in page at three in the morning costs sleep or flowers; an answer to an alarm by its
one-tap link needs none. Ages are real time: monotonic while the program runs, the clock's
over a restart, and a session that would then have begun in the future has ended.
"""

import contextlib
import hashlib
import hmac
import json
import secrets
import threading
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

from monitor.access.accounts import token_hash
from monitor.access.private_file import write_private
from monitor.clock import SystemClock, monotonic_s
from monitor.errors import FarmError

IDLE_S: Final = 7 * 86_400.0
ABSOLUTE_S: Final = 30 * 86_400.0
EACH_AT_MOST: Final = 20
_ID_BYTES: Final = 16  # 128 bits
_SAVED_EVERY_S: Final = 3_600.0


@dataclass(frozen=True, slots=True)
class Session:
    """One sign-in; ``mark`` is the account's at that time. Times are monotonic. [s]"""

    person: str
    mark: str
    began_s: float
    used_s: float

    def lasts(self, now_s: float) -> bool:
        """Return whether it goes on. [s]"""
        return now_s - self.used_s < IDLE_S and 0 <= now_s - self.began_s < ABSOLUTE_S


def key_of(session_id: str) -> str:
    """Return the key that forms of a session bring back: it cannot be made without the id."""
    return hmac.new(session_id.encode("utf-8", "replace"), b"form key", hashlib.sha256).hexdigest()


@dataclass
class Sessions:
    """The sessions of one farm; every method may be called from any thread."""

    path: Path
    _by_hash: dict[str, Session] = field(default_factory=dict, repr=False)
    _saved_s: float = field(default=float("-inf"), repr=False)

    def __post_init__(self) -> None:
        self._lock = threading.Lock()
        self._by_hash = _read(self.path)

    def begin(self, person: str, mark: str, now_s: float, instead_of: str = "") -> str:
        """Begin a session and return its new id; the one it stands instead of ends. [s]"""
        session_id = secrets.token_urlsafe(_ID_BYTES)
        with self._lock:
            self._by_hash.pop(token_hash(instead_of), None)
            self._by_hash[token_hash(session_id)] = Session(person, mark, now_s, now_s)
            own = [each for each, one in self._by_hash.items() if one.person == person]
            for oldest in own[:-EACH_AT_MOST]:
                del self._by_hash[oldest]
            self._save(now_s)
        return session_id

    def find(self, session_id: str, now_s: float) -> Session | None:
        """Return a session that goes on, noting that it is used, or None. [s]"""
        name = token_hash(session_id)
        with self._lock:
            found = self._by_hash.get(name)
            if found is None:
                return None
            if not found.lasts(now_s):
                del self._by_hash[name]
                return None
            self._by_hash[name] = replace(found, used_s=now_s)
            return found

    def end(self, session_id: str, now_s: float) -> None:
        """End one session. [s]"""
        with self._lock:
            if self._by_hash.pop(token_hash(session_id), None) is not None:
                self._save(now_s)

    def end_all(self, person: str, now_s: float) -> None:
        """End every session of a person's. [s]"""
        with self._lock:
            self._by_hash = {
                each: one for each, one in self._by_hash.items() if one.person != person
            }
            self._save(now_s)

    def due(self, now_s: float) -> bool:
        """Return whether it is time to keep when sessions were last used: once an hour. [s]"""
        return bool(self._by_hash) and now_s - self._saved_s >= _SAVED_EVERY_S

    def save_if_due(self, now_s: float) -> None:
        """Keep when sessions were last used; a disk that fails waits. [s]"""
        with self._lock:
            if self.due(now_s):
                self._save(now_s)

    def _save(self, now_s: float) -> None:
        """Write the sessions down; where the disk refuses they last until the program ends."""
        wall_ms = SystemClock().now_ms()
        kept = {
            each: {
                "person": one.person, "mark": one.mark,
                "began_ms": round(wall_ms - (now_s - one.began_s) * 1000),
                "used_ms": round(wall_ms - (now_s - one.used_s) * 1000),
            }
            for each, one in self._by_hash.items() if one.lasts(now_s)
        }  # fmt: skip
        self._saved_s = now_s
        try:
            write_private(self.path, json.dumps(kept), lasting=False)
        except FarmError:  # what has ended must not come back at the next start
            with contextlib.suppress(OSError):
                self.path.unlink(missing_ok=True)


def _read(path: Path) -> dict[str, Session]:
    """Return the sessions as they were kept; none where the file is missing or not sound."""
    now_s, wall_ms = monotonic_s(), SystemClock().now_ms()

    def at_s(then_ms: int) -> float:
        return now_s - (wall_ms - then_ms) / 1000

    try:
        kept = json.loads(path.read_text(encoding="utf-8"))
        found = {
            str(each): Session(
                str(one["person"]), str(one["mark"]), at_s(one["began_ms"]), at_s(one["used_ms"])
            )
            for each, one in kept.items()
        }
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return {}
    return {each: one for each, one in found.items() if one.lasts(now_s)}
