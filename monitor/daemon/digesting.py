"""Gathers what the digest tells, and writes it once, over restarts too."""

from datetime import date
from typing import Final

import numpy as np

from monitor.daemon.judge import Judge
from monitor.daemon.restoring import judged, specs
from monitor.farm import Place
from monitor.model import NoticeStatus, Quantity
from monitor.notices import drills
from monitor.notices.digest import Digest, PlaceTime, begun, digest_message, due
from monitor.store import ReadingReader

_KEY: Final = "digest_day"
_HOUR_MS: Final = 3_600_000
_LOOKED: Final = 5000


def do(judge: Judge, reader: ReadingReader, now_ms: int) -> None:
    """Write the digest that is due; at the first start only that none was."""
    ledger, farm = judge.ledger, judge.farm
    note_drills(judge, now_ms)
    text = ledger.get(_KEY)
    last = date.fromisoformat(text) if isinstance(text, str) else None
    day = due(last, now_ms, farm.notices, farm.zone)
    if day is None:
        return
    if last is None:
        ledger.put(_KEY, day.isoformat())
        return
    digest = gather(judge, reader, now_ms)
    rows = digest_message(digest, judge.words, farm.people, farm.notices, now_ms)
    ledger.add_notices(rows, now_ms, note=(_KEY, day.isoformat()))


def note_drills(judge: Judge, now_ms: int) -> list[str]:
    """Return whom no drill has woken for long; at the first start note since when we look."""
    kept = judge.ledger.get(drills.KEY)
    begun = drills.watched_since(kept, now_ms)
    if begun is not None:
        judge.ledger.put(drills.KEY, begun)
    return [f"{each}." for each in drills.untested(kept, judge.farm.people, now_ms)]


def gather(judge: Judge, reader: ReadingReader, now_ms: int) -> Digest:
    """Return what there is to tell of the last day or week."""
    days = 1 if judge.farm.notices.digest == "daily" else 7
    since_ms, hours = begun(days, now_ms, judge.farm.zone)
    notices = [each for each in judge.ledger.notices(_LOOKED) if each.created_ms >= since_ms]
    alarms = [each for each in judge.ledger.alarms(limit=_LOOKED) if each.raised_ms >= since_ms]
    return Digest(
        days=days,
        places=[_place(judge, reader, each, since_ms) for each in judge.farm.places.values()],
        alarms=len(alarms),
        sent=sum(each.status is NoticeStatus.SENT for each in notices),
        failed=sum(each.status is NoticeStatus.FAILED for each in notices),
        notes=note_drills(judge, now_ms),
        hours=hours,
    )


def _place(judge: Judge, reader: ReadingReader, place: Place, since_ms: int) -> PlaceTime:
    """Return a place's air: an hour is in band where its sensors' mean is, by their own means."""
    hours: dict[int, list[float]] = {}
    lows, highs = [], []
    for channel, spec in specs(judge.farm).items():
        sensor = judge.farm.sensors[channel.sensor]
        if sensor.place != place.id or channel.quantity is not Quantity.TEMPERATURE:
            continue
        series = reader.series(channel, max(since_ms, judge.state.posted.get(sensor.id, 0)))
        if not len(series.at_ms):
            continue
        samples = judged(channel, spec, series)
        hour = np.asarray(samples.at_ms) // _HOUR_MS
        value = np.asarray(samples.value)
        for each in np.unique(hour):
            hours.setdefault(int(each), []).append(float(value[hour == each].mean()))
        lows.append(float(value.min()))
        highs.append(float(value.max()))
    means = [sum(each) / len(each) for each in hours.values()]
    return PlaceTime(
        place.id, len(means), _in_band(place, means), min(lows, default=None),
        max(highs, default=None),
    )  # fmt: skip


def _in_band(place: Place, means: list[float]) -> int | None:
    band = place.bands.get(Quantity.TEMPERATURE)
    if band is None or band.ideal is None:
        return None
    low = -np.inf if band.ideal.low is None else band.ideal.low
    high = np.inf if band.ideal.high is None else band.ideal.high
    return sum(bool(low <= each <= high) for each in means)
