"""What is said of sensors, of stages, and of the monitor itself."""

from collections.abc import Callable, Mapping
from typing import Final

from monitor.alarms.darkness import say_dark
from monitor.alarms.saying import say_list, say_span
from monitor.alarms.wording import Wording, Words
from monitor.model import AlarmKind, Quantity, Transition

_SHOWN: Final = (Quantity.TEMPERATURE, Quantity.HUMIDITY, Quantity.SOIL_TEMPERATURE)


def silent(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say that a sensor is not heard any more, and what that leaves unknown."""
    place, sensor = words.place(transition.place), words.sensor(transition.sensor)
    title = f"{place}: sensor {sensor} has gone silent"
    since = words.time(transition.began_ms, now_ms)
    usual = say_span(float(transition.facts.get("interval_s", 0.0)))
    parts = [
        f"{title}.",
        f"Last heard at {since}; it should report every {usual}.",
        *_last(transition, words),
        _neighbours(transition, words, place),
        words.contents(transition.place, now_ms),
        words.first_look(AlarmKind.SENSOR_SILENT, transition.place),
    ]
    return Words(title, " ".join(parts))


def _last(transition: Transition, words: Wording) -> list[str]:
    last: Mapping[str, float] = transition.facts.get("last", {})
    said = [words.value(last[each], each) for each in _SHOWN if each.value in last]
    return [f"It said {say_list(said)} then."] if said else []


def _neighbours(transition: Transition, words: Wording, place: str) -> str:
    others = [words.sensor(each) for each in transition.facts.get("others", ())]
    if others:
        return f"Still heard there: {say_list(others)}."
    return f"No other sensor is heard from there: how {place} stands is not known."


def heard(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say that a silent sensor is heard again."""
    place, sensor = words.place(transition.place), words.sensor(transition.sensor)
    if transition.facts.get("afresh"):
        title = f"{place}: sensor {sensor} is waited for afresh"
        return Words(title, f"{title}: what it was dark with is heard again.")
    title = f"{place}: sensor {sensor} is heard again"
    back = words.time(int(transition.facts.get("back_ms", transition.at_ms)), now_ms)
    span = say_span(float(transition.facts.get("out_s", 0.0)))
    return Words(title, f"{title} since {back}. It was silent for {span}: that time is unknown.")


def ending(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say that the longest time of a batch's stage is near, or over."""
    number = transition.batches[0]
    stage = words.stage(number, str(transition.facts["stage"]))
    ends_ms = int(transition.facts["ends_ms"])
    title = f"{words.place(transition.place)}: {stage} of {words.batch(number)} ends soon"
    since = words.time(int(transition.facts["since_ms"]), now_ms)
    left_s = (ends_ms - now_ms) / 1000
    ends = words.time(ends_ms, now_ms)
    when = f"ends at {ends}, in {say_span(left_s)}"
    if left_s <= 0:
        title = title.replace("ends soon", "is over its longest time")
        when = f"ended at {ends}, {say_span(-left_s)} ago"
    text = (
        f"{title}. There since {since}; the longest it should be {when}. "
        f"{_count(words, number)}{words.first_look(AlarmKind.STAGE_ENDING, transition.place)}"
    )
    return Words(title, text)


def _count(words: Wording, number: int) -> str:
    batch = words.batches.get(number)
    if batch is None or batch.count is None:
        return ""
    return f"It is {'about ' if batch.rough else ''}{batch.count:,} {batch.unit}. "


def moved_on(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say that a batch left the stage it was about to be too long at."""
    number = int(transition.key.subject.partition(":")[2])
    batch = words.batch(number)
    title = f"{batch[:1].upper()}{batch[1:]} has moved on"
    when = words.time(transition.at_ms, now_ms)
    return Words(title, f"{title} by your records of {when}: nothing more to do for it.")


_OWN: Final[Mapping[AlarmKind, tuple[str, str]]] = {
    AlarmKind.SENSOR_DOUBTFUL: (
        "{place}: sensor {sensor} is not to be believed",
        "{place}: sensor {sensor} is believed again",
    ),
    AlarmKind.BATTERY_LOW: (
        "{place}: the battery of sensor {sensor} is low",
        "{place}: the battery of sensor {sensor} is good again",
    ),
    AlarmKind.SENSORS_DARK: ("Several sensors fell silent together", "The sensors are heard again"),
    AlarmKind.MAINS_LOST: ("{place} is without power", "{place} has power again"),
    AlarmKind.DOOR_OPEN: ("{place}: the door stands open", "{place}: the door is shut"),
    AlarmKind.WORKING_HARDER: (
        "{place} works harder than it used to",
        "{place} works as it used to",
    ),
    AlarmKind.STORE_FAILED: (
        "The monitor cannot keep readings",
        "The monitor keeps readings again",
    ),
    AlarmKind.BROKER_LOST: ("The monitor hears nothing", "The monitor hears again"),
    AlarmKind.CONFIGURATION_REFUSED: (
        "The farm's files have a mistake",
        "The farm's files are in order again",
    ),
    AlarmKind.NOTICES_FAILED: ("No message reaches anybody", "Messages go out again"),
    AlarmKind.FARM_DARK: ("The farm's monitor is not heard", "The farm's monitor is heard again"),
}


def own_raised(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say what the monitor has to say of itself, or of a place by the records."""
    title = _OWN[transition.key.kind][0].format(
        place=words.place(transition.place), sensor=words.sensor(transition.sensor)
    )
    detail = str(transition.facts.get("detail", "")).strip()
    parts = [f"{title} since {words.time(transition.began_ms, now_ms)}."]
    if detail:
        parts.append(detail if detail.endswith((".", "!", "?")) else f"{detail}.")
    parts += say_dark(transition.facts, words, now_ms)
    parts.append(words.first_look(transition.key.kind, transition.place))
    return Words(title, " ".join(parts))


def own_returned(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say that such a thing is over."""
    title = _OWN[transition.key.kind][1].format(
        place=words.place(transition.place), sensor=words.sensor(transition.sensor)
    )
    span = say_span((transition.at_ms - transition.began_ms) / 1000)
    return Words(title, f"{title} since {words.time(transition.at_ms, now_ms)}, after {span}.")


def gone(transition: Transition, words: Wording, now_ms: int) -> Words:
    """Say that nothing judges an alarm's condition any more; it may still hold."""
    subject = words.place(transition.place or transition.key.subject)
    kind = transition.key.kind.value.replace("_", " ")
    title = f"{subject}: no longer watched for {kind}"
    when = words.time(transition.at_ms, now_ms)
    return Words(
        title,
        f"{title} since {when}: the limit, the sensor or the batch it rested on was taken away "
        "in your files or records. That is no word on how it stands.",
    )


Say = Callable[[Transition, Wording, int], Words]
