"""What goes out next to one address: one notice, or several late ones in one message."""

from collections.abc import Callable, Collection, Sequence
from typing import Final, NamedTuple

from monitor.model import Notice, NoticeKind

LATE_MS: Final = 300_000
FLOOD: Final = 4  # alarms due at once that are one message
COMPANY_MS: Final = 240_000  # a lesser alarm waits so long in a place just told (common practice)
_MINUTE_MS: Final = 60_000
_GRAVITY: Final = {"high": 0, "medium": 1, "low": 2}
_ALONE: Final = frozenset({NoticeKind.DRILL})


class Parcel(NamedTuple):
    """One message and the notices that it delivers."""

    notices: tuple[Notice, ...]
    title: str
    body: str


class Choice(NamedTuple):
    """What to send, if anything, and what is never to go.

    That is a clearing that has lost its raise, and a raise that was over while it waited for
    others of its place, with its clearing.
    """

    parcel: Parcel | None
    orphans: tuple[Notice, ...]


def choose(  # noqa: PLR0917  # what there is, what is known of it, and when
    ready: Sequence[Notice],
    waiting: Sequence[Notice],
    raise_sent: Callable[[int], bool],
    now_ms: int,
    place_of: Callable[[int], str | None] = lambda _alarm: None,
    rung: Callable[[str], bool] = lambda _place: False,
) -> Choice:
    """Return what to send of the notices that are ready.

    Parameters
    ----------
    ready, waiting : Sequence of Notice
        Of this address: those that may go now, and all that have not gone.
    raise_sent : Callable
        Whether this address has been told of an alarm, by its id.
    now_ms : int
        Now, in judged time. [ms]
    place_of : Callable, optional
        The place of an alarm, by its id.
    rung : Callable, optional
        Whether this address was told within ``COMPANY_MS`` that something is wrong in a place.

    Notes
    -----
    The gravest goes first. A clearing never goes without its raise: it waits for one
    that waits, goes with it in a combined message, and is dropped where there is none. What is
    of the gravest one's place goes with it, and where many are due they go together.
    Nothing waits for another, but for a lesser alarm of a place that has just been told of:
    it rings nobody again for some minutes, and goes at once with what else goes from there.
    """
    held = {each.id for each in ready if _held(each, place_of, rung, now_ms)}
    healed = _healed(ready, held)
    if healed:
        ready = [each for each in ready if each not in healed]
        waiting = [each for each in waiting if each not in healed]
    raising = {notice.alarm for notice in waiting if _tells(notice)}
    at_hand = {notice.alarm for notice in ready if _tells(notice)}
    untold = [
        notice
        for notice in ready
        if _clears(notice) and notice.alarm is not None and not raise_sent(notice.alarm)
    ]
    orphans = (*healed, *(notice for notice in untold if notice.alarm not in raising))
    early = {notice.id for notice in untold if notice.alarm not in at_hand}
    rest = sorted((each for each in ready if each.id not in early), key=_order)
    if all(each.id in held for each in rest):
        return Choice(None, orphans)
    if _combined(rest, now_ms):
        together = [notice for notice in rest if notice.kind not in _ALONE]
        return Choice(_together(together, now_ms), orphans)
    group = _company([each for each in rest if each.kind not in _ALONE], held, place_of)
    if group:
        return Choice(_group(group, now_ms), orphans)
    alone = [notice for notice in rest if notice not in untold and notice.id not in held]
    return Choice(_single(alone[0], now_ms) if alone else None, orphans)


def _tells(notice: Notice) -> bool:
    return notice.alarm is not None and notice.kind in {NoticeKind.RAISED, NoticeKind.REMINDER}


def _clears(notice: Notice) -> bool:
    return notice.kind is NoticeKind.CLEARED


def _order(notice: Notice) -> tuple[int, int]:
    return _GRAVITY.get(notice.priority, 1), notice.id


def _late(notice: Notice, now_ms: int) -> bool:
    return notice.attempts > 0 or now_ms - notice.due_ms >= LATE_MS


def _combined(ready: Sequence[Notice], now_ms: int) -> bool:
    together = [notice for notice in ready if notice.kind not in _ALONE]
    return len(together) > 1 and any(_late(notice, now_ms) for notice in together)


def _held(
    notice: Notice, place_of: Callable[[int], str | None], rung: Callable[[str], bool], now_ms: int
) -> bool:
    """Return whether a lesser alarm waits, its place having just been told of."""
    if notice.kind is not NoticeKind.RAISED or notice.priority == "high" or notice.alarm is None:
        return False
    if notice.attempts > 0 or not 0 <= now_ms - notice.due_ms < COMPANY_MS:
        return False
    place = place_of(notice.alarm)
    return place is not None and rung(place)


def _healed(ready: Sequence[Notice], held: Collection[int]) -> tuple[Notice, ...]:
    """Return the raises that were over while they were held, each with its clearing."""
    over = {each.alarm for each in ready if _clears(each)}
    raised = {each.alarm for each in ready if each.id in held and each.alarm in over}
    return tuple(each for each in ready if each.alarm in raised)


def _company(
    rest: Sequence[Notice], held: Collection[int], place_of: Callable[[int], str | None]
) -> list[Notice]:
    """Return what goes in one message with the first: a flood whole, else what is of its place."""
    if _alarms(rest) >= FLOOD:
        return list(rest)
    first = next((each for each in rest if each.id not in held), None)
    place = None if first is None or first.alarm is None else place_of(first.alarm)
    if place is None:
        return []
    same = [each for each in rest if each.alarm is not None and place_of(each.alarm) == place]
    return same if _alarms(same) > 1 else []


def _alarms(notices: Sequence[Notice]) -> int:
    return len({notice.alarm or -notice.id for notice in notices})


def _group(notices: Sequence[Notice], now_ms: int) -> Parcel:
    """Return alarms of the same moment as one message under the gravest one's title."""
    over = {notice.alarm for notice in notices if _clears(notice)}
    lead = next((each for each in notices if each.alarm not in over), notices[0])
    body = _together(notices, now_ms).body
    return Parcel(tuple(notices), f"{lead.title}; and {_alarms(notices) - 1} more", body)


def _single(notice: Notice, now_ms: int) -> Parcel:
    late_ms = now_ms - notice.due_ms
    title = notice.title if late_ms < LATE_MS else f"{span(late_ms)} late: {notice.title}"
    return Parcel((notice,), title, notice.body)


def _together(notices: Sequence[Notice], now_ms: int) -> Parcel:
    """Return late notices as one message: what still stands first, the gravest of it first."""
    by_alarm: dict[int, list[Notice]] = {}
    for notice in notices:
        by_alarm.setdefault(notice.alarm or -notice.id, []).append(notice)
    standing, over = [], []
    for group in by_alarm.values():
        cleared = next((each for each in group if _clears(each)), None)
        told = max((each for each in group if each is not cleared), key=_newest, default=None)
        if cleared is None and told is not None:
            ago_ms = now_ms - told.created_ms
            ago = f" ({span(ago_ms)} ago)" if ago_ms >= _MINUTE_MS else ""
            standing.append(f"{told.title}{ago}\n{told.body}")
        elif cleared is not None:
            over.append(f"Over, {span(now_ms - cleared.created_ms)} ago: {_over(told, cleared)}")
    oldest_ms = min(notice.due_ms for notice in notices)
    title = f"{len(by_alarm)} messages, up to {span(now_ms - oldest_ms)} late"
    return Parcel(tuple(notices), title, "\n\n".join([*standing, *over]))


def _newest(notice: Notice) -> int:
    return notice.id


def _over(told: Notice | None, cleared: Notice) -> str:
    return cleared.title if told is None else f"{told.title}; then {cleared.title}"


def span(length_ms: int) -> str:
    """Return a length of time in plain words. [ms]"""
    minutes = max(length_ms, 0) // 60_000
    hours, minutes = divmod(minutes, 60)
    if hours:
        return f"{hours} h {minutes} min" if minutes else f"{hours} h"
    return f"{minutes} min"
