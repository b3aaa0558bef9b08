"""What a second watcher has heard, and whether it has been quiet for too long. No input, no output.

Times are those of the watcher's own clock: what a heartbeat says of its own time is never
judged by. A step of the clock moves what was timed along with it.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from monitor.alarms import own_transition
from monitor.farm import Second
from monitor.model import AlarmKind, Edge, Transition

_LONGEST: Final = 60
_MOST: Final = 8


@dataclass(frozen=True, slots=True)
class Beats:
    """Since when it listens, when it last heard, and what that said. [ms]

    ``since_ms`` is the start of this run; ``dark_ms`` from when the farm counts as dark.
    """

    since_ms: int
    heard_ms: int | None = None
    last: str = ""
    dark_ms: int | None = None

    def kept(self) -> dict[str, Any]:
        """Return what a restart needs, as JSON."""
        return {"heard_ms": self.heard_ms, "last": self.last}


def begun(now_ms: int, kept: object, dark_ms: int | None) -> Beats:
    """Return where a start finds things; a heartbeat of the future counts as one of now."""
    found = kept if isinstance(kept, Mapping) else {}
    heard_ms = found.get("heard_ms")
    heard = min(heard_ms, now_ms) if isinstance(heard_ms, int) else None
    return Beats(now_ms, heard, str(found.get("last", "")), dark_ms)


def heard(beats: Beats, body: Mapping[str, Any], now_ms: int) -> Beats:
    """Return it with a heartbeat that has just come."""
    return replace(beats, heard_ms=now_ms, last=said(body))


def stepped(beats: Beats, by_ms: int) -> Beats:
    """Return it after the clock has jumped."""
    heard_ms = None if beats.heard_ms is None else beats.heard_ms + by_ms
    dark_ms = None if beats.dark_ms is None else beats.dark_ms + by_ms
    return replace(beats, since_ms=beats.since_ms + by_ms, heard_ms=heard_ms, dark_ms=dark_ms)


def judged(beats: Beats, second: Second, now_ms: int) -> tuple[Beats, Transition | None]:
    """Return where things stand now, and what is to be told of it."""
    waited_from = max(beats.since_ms, beats.heard_ms or beats.since_ms)
    quiet = now_ms - waited_from >= round(second.grace_s * 1000)
    if quiet and beats.dark_ms is None:
        dark_ms = beats.since_ms if beats.heard_ms is None else beats.heard_ms
        beats = replace(beats, dark_ms=dark_ms)
        return beats, _told(Edge.RAISE, beats, now_ms, dark_ms)
    if beats.dark_ms is not None and beats.heard_ms is not None and beats.heard_ms > beats.dark_ms:
        began_ms, beats = beats.dark_ms, replace(beats, dark_ms=None)
        return beats, _told(Edge.RETURN, beats, now_ms, began_ms)
    return beats, None


def _told(edge: Edge, beats: Beats, now_ms: int, began_ms: int) -> Transition:
    facts = {"last": beats.last, "heard": beats.heard_ms is not None}
    plain = own_transition(AlarmKind.FARM_DARK, edge, now_ms, began_ms=began_ms)
    return replace(plain, facts=facts)


def said(body: Mapping[str, Any]) -> str:
    """Return a heartbeat's summary in a line: short and printable, whatever came."""
    places, alarms = _texts(body.get("places")), _texts(body.get("alarms"))
    parts = [*places, *(f"open: {each}" for each in alarms)]
    return "; ".join(parts)


def _texts(value: object) -> list[str]:
    found = value if isinstance(value, list) else []
    plain = ["".join(c for c in each if c.isprintable()) for each in found if isinstance(each, str)]
    return [each[:_LONGEST].strip(" .") for each in plain if each.strip(" .")][:_MOST]
