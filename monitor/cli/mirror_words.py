"""What ``cormwatch mirror`` prints, in words and as JSON."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Final

from monitor.farm import Farm, Mirror, format_when
from monitor.mirror.comparing import DAY_MS, Compared, Difference
from monitor.mirror.standing import MirrorStanding
from monitor.store import RefusedReading
from monitor.units import iso_utc

SHOWN: Final = 20


def _time(at_ms: int | None) -> str | None:
    return None if at_ms is None else iso_utc(at_ms)


@dataclass(frozen=True)
class Status:
    """How far a copy is: readings that wait, and the newest that were refused."""

    mirror: Mirror
    standing: MirrorStanding
    left: int
    refused: Sequence[RefusedReading]


def status_json(status: Status) -> dict[str, Any]:
    """Return the status as JSON's plain values."""
    mirror, standing = status.mirror, status.standing
    return {
        "url": mirror.url, "bucket": mirror.bucket, "site": mirror.site,
        "waiting": status.left, "sent": standing.sent, "sent_at": _time(standing.sent_ms),
        "failing_since": _time(standing.failing_since_ms), "error": standing.error or None,
        "refused": standing.refused,
        "refusals": [
            {
                "at": iso_utc(each.at_ms), "sensor": each.channel.sensor,
                "quantity": each.channel.quantity.value, "raw": each.raw, "reason": each.reason,
            }
            for each in status.refused
        ],
    }  # fmt: skip


def say_status(farm: Farm, status: Status) -> list[str]:
    """Return the status in lines."""

    def when(at_ms: int) -> str:
        return format_when(at_ms, farm.zone)

    mirror, standing = status.mirror, status.standing
    last = f", the last at {when(standing.sent_ms)}" if standing.sent_ms else ""
    lines = [
        f"Copied to {mirror.url}, bucket {mirror.bucket}, as the site {mirror.site}:",
        f"  {standing.sent:,} readings sent{last}; {status.left:,} wait.",
    ]
    if standing.failing_since_ms is not None:
        since = when(standing.failing_since_ms)
        lines.append(f"  It takes none since {since}: {standing.error}. They are kept here.")
    if standing.refused:
        lines.append(f"  {standing.refused:,} refused and set aside, the newest:")
    for each in status.refused[:SHOWN]:
        name = f"{each.channel.sensor!r} {each.channel.quantity.value}"
        lines.append(f"    {when(each.at_ms)} {name} {each.raw:g}: {each.reason}")
    return lines


def _day(day_ms: int) -> str:
    return f"{datetime.fromtimestamp(day_ms / 1000, UTC):%Y-%m-%d}"


def difference_json(found: Compared, left: int) -> dict[str, Any]:
    """Return a comparison as JSON's plain values."""
    return {
        "equal": not found.differences, "channels": found.channels, "days": found.days,
        "readings": found.readings, "waiting": left,
        "differences": [
            {
                "sensor": each.channel.sensor, "quantity": each.channel.quantity.value,
                "day": _day(each.day_ms), "here": each.here.n, "there": each.there.n,
            }
            for each in found.differences
        ],
    }  # fmt: skip


def say_differences(found: Compared, left: int, refused: Sequence[RefusedReading]) -> list[str]:
    """Return a comparison in lines."""
    waits = f" {left:,} readings wait to be sent." if left else ""
    if not found.differences:
        read = f"{found.readings:,} readings of {found.channels} channels"
        return [f"Equal: {read} on {found.days:,} days (UTC), to the last bit.{waits}"]
    aside = Counter((each.channel, each.at_ms // DAY_MS * DAY_MS) for each in refused)
    lines = [f"{len(found.differences):,} of {found.days:,} days (UTC) differ:"]
    lines += [
        _difference(each, aside[each.channel, each.day_ms]) for each in found.differences[:SHOWN]
    ]
    if len(found.differences) > SHOWN:
        lines.append(f"  and {len(found.differences) - SHOWN:,} more: --json lists them")
    first = _day(min(each.day_ms for each in found.differences))
    lines.append(f"Send them again with: cormwatch mirror fill --since {first}{waits}")
    return lines


def _difference(each: Difference, aside: int) -> str:
    what = f"{each.here.n:,} here, {each.there.n:,} there"
    if each.here.n == each.there.n:
        what += ", not the same values"
    if aside:
        what += f" ({aside} refused)"
    return f"  {_day(each.day_ms)} {each.channel.sensor} {each.channel.quantity.value}: {what}"
