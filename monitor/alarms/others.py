"""What is said of sensors, of stages, and of the monitor itself."""

from collections.abc import Callable, Mapping
from typing import Final

from monitor.alarms.darkness import say_dark
from monitor.alarms.saying import say_list, say_span
from monitor.alarms.wording import Wording, Words
from monitor.batches.counts import say_count
from monitor.model import AlarmKind, Quantity, Transition
from monitor.phrase import Capital, Phrase, together

_SHOWN: Final = (Quantity.TEMPERATURE, Quantity.HUMIDITY, Quantity.SOIL_TEMPERATURE)


def silent(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say that a sensor is not heard any more, and what that leaves unknown."""
    place, sensor = words.place(transition.place), words.sensor(transition.sensor)
    title = Phrase("{place}: sensor {sensor} has gone silent", place=place, sensor=sensor)
    since = words.time(transition.began_ms, now_ms)
    usual = say_span(float(transition.facts.get("interval_s", 0.0)))
    parts = [
        Phrase("{title}.", title=title),
        Phrase("Last heard at {since}; it should report every {usual}.", since=since, usual=usual),
        *_last(transition, words),
        _neighbours(transition, words, place),
        words.contents(transition.place, now_ms),
        words.first_look(AlarmKind.SENSOR_SILENT, transition.place),
    ]
    return Words(title, together(parts))


def _last(transition: Transition, words: Wording) -> list[str]:
    last: Mapping[str, float] = transition.facts.get("last", {})
    said = [words.value(last[each], each) for each in _SHOWN if each.value in last]
    return [Phrase("It said {names} then.", names=say_list(said))] if said else []


def _neighbours(transition: Transition, words: Wording, place: str) -> str:
    others = [words.sensor(each) for each in transition.facts.get("others", ())]
    if others:
        return Phrase("Still heard there: {names}.", names=say_list(others))
    return Phrase(
        "No other sensor is heard from there: how {place} stands is not known.", place=place
    )


def heard(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say that a silent sensor is heard again."""
    place, sensor = words.place(transition.place), words.sensor(transition.sensor)
    if transition.facts.get("afresh"):
        title = Phrase("{place}: sensor {sensor} is waited for afresh", place=place, sensor=sensor)
        return Words(title, Phrase("{title}: what it was dark with is heard again.", title=title))
    title = Phrase("{place}: sensor {sensor} is heard again", place=place, sensor=sensor)
    back = words.time(int(transition.facts.get("back_ms", transition.at_ms)), now_ms)
    span = say_span(float(transition.facts.get("out_s", 0.0)))
    return Words(
        title,
        Phrase(
            "{title} since {back}. It was silent for {span}: that time is unknown.",
            title=title,
            back=back,
            span=span,
        ),
    )


def ending(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say that the longest time of a batch's stage is near, or over."""
    number = transition.batches[0]
    stage = words.stage(number, str(transition.facts["stage"]))
    ends_ms = int(transition.facts["ends_ms"])
    title = Phrase(
        "{place}: {stage} of {batch} ends soon",
        place=words.place(transition.place),
        stage=stage,
        batch=words.batch(number),
    )
    since = words.time(int(transition.facts["since_ms"]), now_ms)
    left_s = (ends_ms - now_ms) / 1000
    ends = words.time(ends_ms, now_ms)
    when = Phrase("ends at {ends}, in {span}", ends=ends, span=say_span(left_s))
    if left_s <= 0:
        title = Phrase("{place}: {stage} of {batch} is over its longest time", **title.given)
        when = Phrase("ended at {ends}, {span} ago", ends=ends, span=say_span(-left_s))
    text = Phrase(
        "{title}. There since {since}; the longest it should be {when}. {count}{first_look}",
        title=title,
        since=since,
        when=when,
        count=_count(words, number),
        first_look=words.first_look(AlarmKind.STAGE_ENDING, transition.place),
    )
    return Words(title, text)


def _count(words: Wording, number: int) -> str:
    batch = words.batches.get(number)
    if batch is None or batch.count is None:
        return ""
    many = say_count(batch.count, batch.unit, rough=batch.rough)
    return Phrase("It is {number}. ", number=many)


def moved_on(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say that a batch left the stage it was about to be too long at."""
    number = int(transition.key.subject.partition(":")[2])
    batch = words.batch(number)
    title = Phrase("{batch} has moved on", batch=Capital(batch))
    when = words.time(transition.at_ms, now_ms)
    return Words(
        title,
        Phrase(
            "{title} by your records of {when}: nothing more to do for it.", title=title, when=when
        ),
    )


_OWN: Final[Mapping[AlarmKind, tuple[str, str]]] = {
    AlarmKind.SENSOR_DOUBTFUL: (
        Phrase("{place}: sensor {sensor} is not to be believed"),
        Phrase("{place}: sensor {sensor} is believed again"),
    ),
    AlarmKind.BATTERY_LOW: (
        Phrase("{place}: the battery of sensor {sensor} is low"),
        Phrase("{place}: the battery of sensor {sensor} is good again"),
    ),
    AlarmKind.SENSORS_DARK: (
        Phrase("Several sensors fell silent together"),
        Phrase("The sensors are heard again"),
    ),
    AlarmKind.MAINS_LOST: (Phrase("{place} is without power"), Phrase("{place} has power again")),
    AlarmKind.DOOR_OPEN: (
        Phrase("{place}: the door stands open"),
        Phrase("{place}: the door is shut"),
    ),
    AlarmKind.WORKING_HARDER: (
        Phrase("{place} works harder than it used to"),
        Phrase("{place} works as it used to"),
    ),
    AlarmKind.STORE_FAILED: (
        Phrase("The monitor cannot keep readings"),
        Phrase("The monitor keeps readings again"),
    ),
    AlarmKind.RECORD_LOST: (
        Phrase("The record of batches is lost"),
        Phrase("The record of batches goes on"),
    ),
    AlarmKind.DISK_FILLING: (
        Phrase("The monitor's disk is filling"),
        Phrase("The monitor's disk has room again"),
    ),
    AlarmKind.DISK_SHORT: (
        Phrase("The monitor's disk is almost full"),
        Phrase("The monitor's disk is no longer almost full"),
    ),
    AlarmKind.BROKER_LOST: (Phrase("The monitor hears nothing"), Phrase("The monitor hears again")),
    AlarmKind.CONFIGURATION_REFUSED: (
        Phrase("The farm's files have a mistake"),
        Phrase("The farm's files are in order again"),
    ),
    AlarmKind.NOTICES_FAILED: (
        Phrase("No message reaches anybody"),
        Phrase("Messages go out again"),
    ),
    AlarmKind.FARM_DARK: (
        Phrase("The farm's monitor is not heard"),
        Phrase("The farm's monitor is heard again"),
    ),
}


def own_raised(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say what the monitor has to say of itself, or of a place by the records."""
    title = Phrase(
        _OWN[transition.key.kind][0],
        place=words.place(transition.place),
        sensor=words.sensor(transition.sensor),
    )
    detail = transition.facts.get("detail", "")
    if not isinstance(detail, Phrase):  # which a strip would make plain English
        detail = str(detail).strip()
    parts: list[str] = [
        Phrase("{title} since {time}.", title=title, time=words.time(transition.began_ms, now_ms))
    ]
    if detail:
        parts.append(
            detail if detail.endswith((".", "!", "?")) else Phrase("{detail}.", detail=detail)
        )
    parts += say_dark(transition.facts, words, now_ms)
    parts.append(words.first_look(transition.key.kind, transition.place))
    return Words(title, together(parts))


def own_returned(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say that such a thing is over."""
    title = Phrase(
        _OWN[transition.key.kind][1],
        place=words.place(transition.place),
        sensor=words.sensor(transition.sensor),
    )
    span = say_span((transition.at_ms - transition.began_ms) / 1000)
    return Words(
        title,
        Phrase(
            "{title} since {time}, after {span}.",
            title=title,
            time=words.time(transition.at_ms, now_ms),
            span=span,
        ),
    )


def gone(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say that nothing judges an alarm's condition any more; it may still hold."""
    subject = words.place(transition.place or transition.key.subject)
    kind = transition.key.kind.value.replace("_", " ")
    title = Phrase("{subject}: no longer watched for {kind}", subject=subject, kind=kind)
    when = words.time(transition.at_ms, now_ms)
    return Words(
        title,
        Phrase(
            "{title} since {when}: the limit, the sensor or the batch it rested on was "
            "taken away in your files or records. That is no word on how it stands.",
            title=title,
            when=when,
        ),
    )


Say = Callable[[Transition, Wording, int], Words]
