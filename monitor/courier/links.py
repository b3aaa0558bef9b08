"""One-tap links at the end of a message: made as it goes out, and never kept as they are."""

import logging
import secrets
from collections.abc import Iterator
from typing import Final

from monitor.courier.choosing import Parcel
from monitor.errors import CormwatchError
from monitor.model import Link, LinkAction, Notice, NoticeKind
from monitor.notices.drills import is_night
from monitor.phrase import Phrase, Translate, in_english, spoken
from monitor.store import Ledger

LASTS_MS: Final = 24 * 3_600_000
_TOKEN_BYTES: Final = 18  # 144 bits; OWASP asks for 128 (from memory)
_ALARMS_AT_MOST: Final = 2
_TELLING: Final = (NoticeKind.RAISED, NoticeKind.REMINDER)
_ANSWERS: Final = ((LinkAction.SEEN, Phrase("Seen")), (LinkAction.GOING, Phrase("I'm going")))
_WOKE: Final = (LinkAction.WOKE, Phrase("It woke me"))
_SCORES: Final = (
    (LinkAction.REAL, Phrase("It was real")),
    (LinkAction.NEEDLESS, Phrase("It was needless")),
)

_log = logging.getLogger("cormwatch.courier")


def with_links(
    parcel: Parcel, ledger: Ledger, base_url: str | None, now_ms: int,
    speak: Translate = in_english,
) -> str:  # fmt: skip
    """Return a message's body with its links behind it; as it is where none can be made."""
    if base_url is None:
        return parcel.body
    try:
        lines = list(_lines(parcel, ledger, base_url, now_ms, speak))
    except CormwatchError as failure:  # the message stands without them
        _log.warning("a message goes out without its links: %s", failure)
        return parcel.body
    return "\n\n".join([parcel.body, "\n".join(lines)]) if lines else parcel.body


def _lines(
    parcel: Parcel, ledger: Ledger, base_url: str, now_ms: int, speak: Translate
) -> Iterator[str]:
    latest: dict[int, Notice] = {
        each.alarm: each for each in parcel.notices if each.alarm is not None
    }
    offered = [
        *((each, *_WOKE) for each in parcel.notices if is_night(each)),
        *(
            (notice, action, f"{spoken(word, speak)} ({notice.title})" if len(latest) > 1 else word)
            for notice in list(latest.values())[:_ALARMS_AT_MOST]
            for action, word in _asked(notice)
        ),
    ]
    for notice, action, word in offered:
        token = secrets.token_urlsafe(_TOKEN_BYTES)
        ledger.add_link(
            token, Link(notice.alarm, notice.id, notice.person, action, now_ms, now_ms + LASTS_MS)
        )
        yield f"{spoken(word, speak)}: {base_url}/a/{token}"


def _asked(notice: Notice) -> tuple[tuple[LinkAction, str], ...]:
    """Return what a notice of an alarm asks: who goes, or whether it was real."""
    if notice.kind in _TELLING:
        return _ANSWERS
    return _SCORES if notice.kind is NoticeKind.CLEARED else ()
