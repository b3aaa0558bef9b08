"""What became of every reading, alarm and notice, once the troubles are over."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from monitor.model import Alarm, AlarmKind, Channel, Notice, NoticeKind, NoticeStatus
from monitor.store import ReadingReader
from tests.system.soak.publishing import Sent
from tests.system.soak.troubles import SAVED_S

_SLACK_S: Final = 1.5  # the broker looks at its own clock once a second
_BACKLOG_S: Final = 30.0  # what waited at the broker while the daemon was away
_LASTING: Final = {AlarmKind.DISK_SHORT, AlarmKind.DISK_FILLING}
"""Told where the disk is looked at while it is full; it is looked at each ten minutes."""
_EXPECTED: Final = {AlarmKind.TOO_WARM, AlarmKind.STORE_FAILED, *_LASTING}


@dataclass
class Kept:
    """Each reading that was acknowledged, and whether it is stored once."""

    acked: int = 0
    unanswered: int = 0
    once: int = 0
    doubled: list[str] = field(default_factory=list)
    lost: list[str] = field(default_factory=list)
    strange: list[str] = field(default_factory=list)
    with_broker: int = 0
    on_full_disk: int = 0
    gaps: int = 0

    def faults(self) -> list[str]:
        """Return what must not be."""
        found = [*self.doubled, *self.lost, *self.strange]
        if self.on_full_disk > self.gaps:
            found.append(f"{self.on_full_disk} lost on a full disk, {self.gaps} told as a gap")
        return found


def kept(
    reader: ReadingReader, sent: Sequence[Sent], broker_killed_s: Sequence[float],
    full_s: Sequence[tuple[float, float]],
) -> Kept:  # fmt: skip
    """Compare what was published with what is stored."""
    found = Kept(gaps=sum(each.count for each in reader.gaps()))
    stored = {each: _values(reader, each) for each in reader.channels()}
    known: dict[Channel, set[float]] = {}
    for message in sent:
        for channel, value in message.said.items():
            known.setdefault(channel, set()).add(value)
            _look(found, message, f"{channel} {value}", stored.get(channel, Counter())[value])
            if message.acked_s is not None and not stored.get(channel, Counter())[value]:
                _blame(found, message.acked_s, f"{channel} {value}", broker_killed_s, full_s)
    for channel, values in stored.items():
        found.strange += [f"{channel} {v}: never said" for v in set(values) - known[channel]]
    return found


def _values(reader: ReadingReader, channel: Channel) -> "Counter[float]":
    return Counter(round(each, 4) for each in reader.series(channel, 0).raw.tolist())


def _look(found: Kept, message: Sent, name: str, times: int) -> None:
    if message.acked_s is None:
        found.unanswered += 1
    else:
        found.acked += 1
        found.once += times == 1
    if times > 1:
        found.doubled.append(f"{name}: stored {times} times")


def _blame(
    found: Kept, acked_s: float, name: str, broker_killed_s: Sequence[float],
    full_s: Sequence[tuple[float, float]],
) -> None:  # fmt: skip
    if any(0.0 <= each - acked_s <= SAVED_S + _SLACK_S for each in broker_killed_s):
        found.with_broker += 1
    elif any(begun - _BACKLOG_S <= acked_s <= ended for begun, ended in full_s):
        found.on_full_disk += 1
    else:
        found.lost.append(f"{name}: acknowledged and not stored")


def wrong_alarms(alarms: Sequence[Alarm], full_told: int) -> list[str]:
    """Return what is wrong with the alarms: each is over, and none is of another kind."""
    found = [
        f"alarm {each.id} still stands: {each.title}"
        for each in alarms
        if each.active and each.key.kind not in _LASTING
    ]
    found += [
        f"needless alarm {each.id}: {each.title}"
        for each in alarms
        if each.key.kind not in _EXPECTED
    ]
    if full_told and not any(each.key.kind is AlarmKind.STORE_FAILED for each in alarms):
        found.append("a full disk was not told")
    return found


def wrong_notices(
    alarms: Sequence[Alarm], notices: Sequence[Notice], raised: Mapping[str, int]
) -> list[str]:
    """Return what is wrong with the notices: each spell told and cleared once, and all sent.

    An alarm that nobody has answered is raised again in its own row, with notices of its own.
    """
    found = [
        f"notice {each.id} is {each.status}: {each.title}"
        for each in notices
        if each.status is not NoticeStatus.SENT
    ]
    places = {each.id: each.key.subject for each in alarms}
    told = Counter((places.get(each.alarm or 0), each.kind) for each in notices)
    for place in sorted({*raised, *places.values()} - {""}):
        for kind in (NoticeKind.RAISED, NoticeKind.CLEARED):
            if told[place, kind] != raised.get(place, 0):
                count, wanted = told[place, kind], raised.get(place, 0)
                found.append(f"{place} was warm {wanted} times, {kind} {count} times")
    return found


def wrong_mails(notices: Sequence[Notice], mails: Sequence[str], kills: int) -> list[str]:
    """Return which notices were never mailed, and what was mailed more than once.

    Several notices may go in one mail. A kill between the mail server's answer and the ledger
    may have one sent twice.
    """
    found = []
    wanted = Counter(each.title for each in notices)
    for title, count in wanted.items():
        if not any(title in mail for mail in mails):
            found.append(f"never mailed, {count} times wanted: {title}")
    if len(mails) > len(notices) + kills:
        found.append(f"{len(mails)} mails of {len(notices)} notices")
    return found
